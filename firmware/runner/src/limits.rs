//! How dear a call may be: in units of the target, against float, and against the floor.

use crate::figures::Run;
use crate::report::Report;
use crate::target::Target;

/// Mean and worst that a subject may cost: our own limits. Where no worst is given, the mean's neighbours are close.
type Limit = (&'static str, f64, Option<f64>);

/// What each target has to keep to.
struct Limits {
    calls: [Limit; 4],
    /// How many times a float PID with its logarithm costs what the integer PID with its lookup does, at least.
    float: f64,
    /// How many times its floor the PID may cost.
    floor: f64,
}

fn limits(target: Target) -> Limits {
    type Both = (f64, Option<f64>);
    let calls = |pi: Both, pid: Both, uniform: f64, zones: (f64, f64)| {
        [
            ("law/pi", pi.0, pi.1),
            ("law/pid", pid.0, pid.1),
            ("lookup/uniform", uniform, None),
            ("lookup/zones", zones.0, Some(zones.1)),
        ]
    };
    match target {
        Target::Msp430 => Limits {
            calls: calls(
                (290.0, Some(350.0)),
                (425.0, Some(515.0)),
                75.0,
                (107.0, 117.0),
            ),
            float: 60.0,
            floor: 1.3,
        },
        Target::Avr => Limits {
            calls: calls((220.0, None), (305.0, None), 82.0, (98.0, 107.0)),
            float: 12.0,
            floor: 1.55,
        },
        Target::Thumbv6m => Limits {
            calls: calls((58.0, None), (68.0, None), 26.0, (41.0, 47.0)),
            float: 45.0,
            floor: 1.75,
        },
        Target::Riscv32 => Limits {
            calls: calls((48.0, None), (58.0, None), 21.0, (36.0, 43.0)),
            float: 30.0,
            floor: 1.6,
        },
    }
}

/// Holds every run against its target's limits.
pub fn check(runs: &[Run], report: &mut Report) {
    for run in runs {
        let limits = limits(run.target);
        let name = run.target.triple();
        for (subject, mean, worst) in limits.calls {
            report.check(
                &format!("{name} {subject}"),
                call(run, subject, mean, worst),
            );
        }
        report.check(
            &format!("{name} PID and uniform lookup"),
            against_float(run, limits.float),
        );
        report.check(&format!("{name} PID"), against_floor(run, limits.floor));
    }
}

fn mean(run: &Run, subject: &str) -> Option<f64> {
    run.figures.get(subject).map(|figure| figure.mean)
}

fn missing() -> String {
    "a subject is missing".to_owned()
}

fn call(run: &Run, subject: &str, mean: f64, worst: Option<f64>) -> Result<String, String> {
    let figure = run.figures.get(subject).ok_or_else(missing)?;
    let unit = run.target.unit();
    let told = format!("{:.1} ({:.0}) {unit}", figure.mean, figure.worst);
    let allowed = match worst {
        Some(worst) => format!("{mean} ({worst}) allowed"),
        None => format!("{mean} allowed"),
    };
    // A counter whose steps are not whole units is read to one step.
    let steps = run.target.counter_steps();
    let reading = if steps == 1.0 { 0.0 } else { 1.0 / steps };
    if figure.mean > mean + reading || worst.is_some_and(|worst| figure.worst > worst) {
        Err(format!("{told}, {allowed}"))
    } else {
        Ok(format!("{told}, {allowed}"))
    }
}

fn against_float(run: &Run, least: f64) -> Result<String, String> {
    let best = |subject: &str| {
        let both = ["float-rust", "float-c"].map(|by| mean(run, &format!("{by}/{subject}")));
        both.into_iter().flatten().reduce(f64::min)
    };
    let ratio = || {
        let float = best("pid")? + best("temperature")?;
        Some(float / (mean(run, "law/pid")? + mean(run, "lookup/uniform")?))
    };
    let ratio = ratio().ok_or_else(missing)?;
    let told = format!("{ratio:.1} times cheaper than float, at least {least}");
    if ratio < least {
        return Err(format!("{told} wanted"));
    }
    Ok(told)
}

fn against_floor(run: &Run, most: f64) -> Result<String, String> {
    let ratio = || Some(mean(run, "law/pid")? / mean(run, "floor/pid")?);
    let ratio = ratio().ok_or_else(missing)?;
    let told = format!("{ratio:.2} times its floor, {most} allowed");
    if ratio > most { Err(told) } else { Ok(told) }
}
