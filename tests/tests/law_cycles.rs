//! Sampled laws, two-position and relay cycles on simulated plants, against published and exact values
//! (`published/control_closed_form.csv`, `published/control_tuning.csv`). The simulations sample finely; what
//! sampling costs is stated at each check. (Any input: `law_switching.rs`.)

use controller_core::gain::Mantissas;
use controller_core::law::relay::{Progress, Relay, RelaySettings, Rule, Ultimate};
use controller_core::law::two_position::{TwoPosition, TwoPositionState};
use controller_core::law::{Action, Integrator, PiState, Settings, pi};
use controller_core::word::Native;
use hushloop_tests::plant::{Kind, Plant};
use hushloop_tests::{Row, rows, rows_of};
use std::collections::VecDeque;
use std::f64::consts::PI;

const CLOSED: &str = "control_closed_form.csv";

/// A two-position cycle of a first-order lag with dead time, settled: greatest, least, time on, time off.
fn two_position_cycle(row: &Row, dt: f64) -> [f64; 4] {
    const COUNTS: f64 = 1e6; // a degree; the domain of 32/64 is +-1073 degC
    let law = TwoPosition::new(
        (row.input("half_band") * COUNTS) as i32,
        0,
        0,
        Action::Reverse,
    )
    .unwrap();
    let (off, on, tau) = (
        row.input("T_off_inf"),
        row.input("T_on_inf"),
        row.input("tau"),
    );
    let set_point = (row.input("setpoint") * COUNTS) as i32;
    let mut state = TwoPositionState::start();
    let mut y = row.input("setpoint");
    let mut delay: VecDeque<bool> =
        std::iter::repeat_n(false, (row.input("L") / dt).round() as usize).collect();
    let decay = (-dt / tau).exp();
    let (mut was_on, mut switches) = (false, 0);
    let (mut greatest, mut least, mut times) = (f64::MIN, f64::MAX, [0.0; 2]);
    loop {
        let is_on = law.step(&mut state, set_point, (y * COUNTS).round() as i32);
        if is_on && !was_on {
            switches += 1;
            if switches == 4 {
                return [greatest, least, times[1], times[0]];
            }
            (greatest, least, times) = (f64::MIN, f64::MAX, [0.0; 2]);
        }
        was_on = is_on;
        times[usize::from(is_on)] += dt;
        delay.push_back(is_on);
        let target = if delay.pop_front() == Some(true) {
            on
        } else {
            off
        };
        y = target + (y - target) * decay;
        greatest = greatest.max(y);
        least = least.min(y);
    }
}

#[test]
fn two_position_cycles() {
    let dt = 1e-3;
    let found = rows_of(CLOSED, "TWOPOS-");
    assert_eq!(found.len(), 17);
    for row in &found {
        let [greatest, least, time_on, time_off] = two_position_cycle(row, dt);
        // A switch comes up to a sample late; the steepest slope is the whole span over tau.
        let slope = (row.input("T_on_inf") - row.input("T_off_inf")) / row.input("tau");
        let (got, allowed) = match row.id.rsplit('-').next().unwrap() {
            "amp" => ((greatest - least) / 2.0, slope * dt),
            "ymax" => (greatest, slope * dt),
            "ymin" => (least, slope * dt),
            "ton" => (time_on, 8.0 * dt),
            "toff" => (time_off, 8.0 * dt),
            "duty" => (time_on / (time_on + time_off), 2e-3),
            other => panic!("{other}"),
        };
        assert!(
            (got - row.number()).abs() <= row.within() + allowed,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
    }
}

/// A relay experiment on a plant of gain 1: 8000 counts and 10000 LSB a unit.
fn experiment(plant: &mut Plant, hysteresis: f64, cycles: u8) -> Ultimate {
    let settings = RelaySettings {
        bias: 16_000,
        d: 10_000,
        hysteresis: (hysteresis * 8000.0) as i16,
        cycles,
        patience: u16::MAX,
        action: Action::Reverse,
    };
    let mut experiment = Relay::new(settings).unwrap();
    for _ in 0..10_000_000 {
        match experiment.step(0, (plant.output() * 8000.0).round() as i16) {
            Progress::Running(duty) => plant.step((f64::from(duty) - 16_000.0) / 10_000.0),
            Progress::Done(seen) => return seen,
            Progress::Failed => panic!("no cycle"),
        }
    }
    panic!("no end");
}

/// The same on `exp(-Ls)/(s + 1)^order`.
fn relay(order: usize, dead_time: f64, hysteresis: f64, samples_a_tau: f64) -> Ultimate {
    let kind = Kind::Lags {
        order,
        tau: 1.0,
        gain: 1.0,
    };
    let dead_samples = (dead_time * samples_a_tau).round() as usize;
    let mut plant = Plant::new(kind, dead_samples, 1.0 / samples_a_tau, 0.0);
    if order > 1 {
        // More than one lag takes more than the first cycle to settle into the exact one.
        let _ = experiment(&mut plant, hysteresis, 16);
    }
    experiment(&mut plant, hysteresis, 4)
}

/// `Ku` in units of 1/K.
fn ultimate_gain(seen: &Ultimate) -> f64 {
    f64::from(seen.gain_q8) / 256.0 * 8000.0 / 10_000.0
}

#[test]
fn relay_cycles() {
    let find = |id: &str| rows(CLOSED).into_iter().find(|r| r.id == id);
    let mut checks = 0;
    for ratio in ["0.1", "0.2", "0.5", "1", "2", "5"] {
        let dead_time: f64 = ratio.parse().unwrap();
        let samples = 2000.0 / dead_time.min(1.0);
        let seen = relay(1, dead_time, 0.0, samples);
        let period = f64::from(seen.period_q4) / 16.0 / samples;
        let amplitude = f64::from(seen.amplitude) / 8000.0;
        let id = |what: &str| format!("RELAY-FOPDT-{ratio}-{what}");
        // A count of 8000 and a sample of 2000 a dead time: half a per cent.
        for (what, got) in [
            ("Pu", period),
            ("a", amplitude),
            ("KuDF", ultimate_gain(&seen)),
        ] {
            if let Some(row) = find(&id(what)) {
                assert!(
                    (got / row.number() - 1.0).abs() < 5e-3,
                    "{}: {got}, published {}",
                    row.id,
                    row.number()
                );
                checks += 1;
            }
        }
        // Low on plants dominated by the lag, high on those dominated by dead time.
        if let Some(row) = find(&id("KuErr")) {
            let truth = find(&id("Ku")).unwrap().number();
            let error = (ultimate_gain(&seen) / truth - 1.0) * 100.0;
            assert!(
                (error - row.number()).abs() < 0.5,
                "{}: {error} %, published {} %",
                row.id,
                row.number()
            );
            assert_eq!(error < 0.0, dead_time < 5.0);
            checks += 1;
        }
    }
    assert_eq!(checks, 19);
}

/// Periods of the cycle against the true ultimate period, which the rows give as an error in per cent.
#[test]
fn relay_periods() {
    let find = |id: &str| rows(CLOSED).into_iter().find(|r| r.id == id).unwrap();
    let mut checks = 0;
    for (ratio, truth) in [("0.2", None), ("0.5", Some("0.5")), ("5", None)] {
        let row = find(&format!("RELAY-FOPDT-{ratio}-TuErr"));
        let dead_time: f64 = ratio.parse().unwrap();
        let samples = 2000.0 / dead_time.min(1.0);
        let seen = relay(1, dead_time, 0.0, samples);
        let period = f64::from(seen.period_q4) / 16.0 / samples;
        // The true period where omega L + atan(omega) = pi; where a row has it as well, that is taken.
        let published = rows("control_tuning.csv")
            .into_iter()
            .find(|r| truth.is_some_and(|t| r.id == format!("ULT-fopdt{t}-Tu")));
        let (mut low, mut high) = (0.0, PI / dead_time);
        for _ in 0..60 {
            let middle: f64 = (low + high) / 2.0;
            if middle * dead_time + middle.atan() < PI {
                low = middle;
            } else {
                high = middle;
            }
        }
        let ultimate = 2.0 * PI / low;
        if let Some(published) = published {
            published.check(ultimate);
        }
        let error = (period / ultimate - 1.0) * 100.0;
        assert!(
            (error - row.number()).abs() < 0.25,
            "{}: {error} %, published {} %",
            row.id,
            row.number()
        );
        checks += 1;
    }
    assert_eq!(checks, 3);
}

/// Three lags: the exact cycle (Tsypkin's condition) and the describing function's estimate.
#[test]
fn relay_on_three_lags() {
    let seen = relay(3, 0.0, 0.0, 2000.0);
    let mut checks = 0;
    for row in rows_of(CLOSED, "RELAY-cube-") {
        let got = if row.id.ends_with("-a") {
            f64::from(seen.amplitude) / 8000.0
        } else {
            ultimate_gain(&seen)
        };
        // The amplitude is 1304 counts, read in whole ones.
        assert!(
            (got / row.number() - 1.0).abs() < 1.5e-3,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
        checks += 1;
    }
    assert_eq!(checks, 2);
}

/// The gain that is read off an oscillation of known amplitude with a relay that has hysteresis.
#[test]
fn gain_with_hysteresis() {
    for row in rows_of(CLOSED, "DFHYS-") {
        let settings = RelaySettings {
            bias: 16_000,
            d: (row.input("d") * 10_000.0) as i16,
            hysteresis: (row.input("eps") * 8000.0) as i16,
            cycles: 8,
            patience: u16::MAX,
            action: Action::Direct,
        };
        let mut experiment = Relay::new(settings).unwrap();
        let seen = (0..1_000_000)
            .find_map(|k| {
                let y = row.input("a") * 8000.0 * (f64::from(k) * 0.001).sin();
                match experiment.step(0, y.round() as i16) {
                    Progress::Done(seen) => Some(seen),
                    _ => None,
                }
            })
            .unwrap();
        let got = ultimate_gain(&seen);
        // 1/256 LSB a count is 1 part in 532 of this gain.
        assert!(
            (got / row.number() - 1.0).abs() < 2e-3,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
    }
}

/// A relay with hysteresis on a plain lag: the amplitude is the hysteresis itself.
#[test]
fn relay_with_hysteresis() {
    for row in rows_of(CLOSED, "RELAYHYS-") {
        let samples = 20_000.0;
        let seen = relay(1, 0.0, row.input("eps"), samples);
        let period = f64::from(seen.period_q4) / 16.0 / samples;
        // Each switch up to a sample late, at 4000 samples a cycle or more.
        assert!(
            (period / row.number() - 1.0).abs() < 3e-3,
            "{}: {period}, published {}",
            row.id,
            row.number()
        );
    }
}

/// Rules from the ultimate gain and period, in integers: 10 LSB/count a unit of gain, 100 samples a second.
#[test]
fn ultimate_cycle_rules() {
    let mut checks = 0;
    for row in rows_of("control_tuning.csv", "ZN2") {
        let (ku, tu) = (row.input("Ku"), row.input("Tu"));
        let seen = Ultimate {
            gain_q8: (ku * 10.0 * 256.0).round() as u32,
            period_q4: (tu * 100.0 * 16.0).round() as u32,
            amplitude: 0,
        };
        let rule = match (&row.id[..5], row.id.split('-').nth(2)) {
            ("ZN2AH", _) => Rule::AstromHagglundPi,
            (_, Some("PID")) => Rule::ZieglerNicholsPid,
            (_, Some("PI")) => Rule::ZieglerNicholsPi,
            _ => Rule::ZieglerNicholsP,
        };
        let gains = rule.gains::<6, 3>(seen);
        let k = f64::from(gains.kp) / 64.0 / 10.0;
        let got = match row.id.rsplit('-').next().unwrap() {
            "K" => k,
            // ki = K h / Ti
            "Ti" => k * 10.0 * 65_536.0 / f64::from(gains.ki) / 100.0,
            "Td" => f64::from(gains.kd) / 64.0 / 10.0 / k * 8.0 / 100.0,
            other => panic!("{other}"),
        };
        assert!(
            (got / row.number() - 1.0).abs() < 5e-3,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
        checks += 1;
    }
    assert_eq!(checks, 21);
    // Tyreus and Luyben as the rows TL-PI and TL-PID print them: Ku/3.2, 2.2 Tu; Ku/2.2, 2.2 Tu, Tu/6.3.
    assert_eq!(rows_of("control_tuning.csv", "TL-").len(), 2);
    let seen = Ultimate {
        gain_q8: 32 << 8,
        period_q4: 100 << 4,
        amplitude: 0,
    };
    let pi = Rule::TyreusLuybenPi.gains::<8, 3>(seen);
    assert_eq!((pi.kp, pi.ki), (2560, 2979)); // 32/3.2 * 256; 10 / 220 * 65536 = 2978.9
    let pid = Rule::TyreusLuybenPid.gains::<8, 3>(seen);
    approx::assert_relative_eq!(
        f64::from(pid.kd) / f64::from(pid.kp) * 8.0,
        100.0 / 6.3,
        max_relative = 5e-3
    );
}

/// Does the loop round `y' = a y + K (1 - a) u` grow? With the shipped 32/64 law, 10^8 counts and 10^7 LSB a unit.
fn grows(kp: f64, ki_h: f64, gain: f64, a: f64) -> bool {
    let scale = 0.1;
    let m = Mantissas {
        kp: (kp * scale * 65_536.0).round() as u32,
        ki: (ki_h * scale * 4_294_967_296.0).round() as u32,
        kd: 0,
    };
    let s = Settings::<i32, 16>::new(m, 0, i32::MAX, Action::Reverse).unwrap();
    let mut state = PiState::with(Integrator::exactly(&s, 1_000_000_000));
    let mut y = 1e-3_f64;
    let peak = |samples: u32, state: &mut PiState<i32>, y: &mut f64| {
        let mut peak = 0.0_f64;
        for _ in 0..samples {
            let u = pi::step::<_, 16, Native>(&s, state, 0, (*y * 1e8).round() as i32);
            *y = a * *y + gain * (1.0 - a) * (f64::from(u) - 1e9) / 1e7;
            peak = peak.max(y.abs());
        }
        peak
    };
    let before = peak(200, &mut state, &mut y);
    let between = peak(600, &mut state, &mut y);
    // From 0.001 to 0.5 is growth, whatever the output's limits make of it then.
    before.max(between) > 0.5 || peak(200, &mut state, &mut y) > before
}

/// The gain at which the sampled loop begins to grow, by bisection.
fn limit(mut low: f64, mut high: f64, grows: impl Fn(f64) -> bool) -> f64 {
    assert!(!grows(low) && grows(high));
    for _ in 0..24 {
        let middle = (low + high) / 2.0;
        if grows(middle) {
            high = middle
        } else {
            low = middle
        }
    }
    low
}

#[test]
fn sampled_stability_limits() {
    let mut checks = 0;
    for row in rows_of(CLOSED, "DSTAB-") {
        let (tau, h) = (row.input("tau"), row.input("h"));
        let a = (-h / tau).exp();
        let got = if row.id.starts_with("DSTAB-P-") {
            limit(0.5 * row.number(), 1.5 * row.number(), |kp| {
                grows(kp, 0.0, row.input("K"), a)
            })
        } else if row.id.starts_with("DSTAB-I-fwd-T") {
            // The period at the limit, from the loop's own poles: 2 pi h / acos((1 + a) / 2).
            row.check(2.0 * PI * h / ((1.0 + a) / 2.0).acos());
            continue;
        } else if row.id.starts_with("DSTAB-I-fwd") {
            limit(0.5 * row.number(), 1.5 * row.number(), |ki| {
                grows(0.0, ki * h, row.input("K"), a)
            })
        } else {
            continue; // the backward form: `law_loops.rs`
        };
        assert!(
            (got / row.number() - 1.0).abs() < 2e-3,
            "{}: {got}, published {}",
            row.id,
            row.number()
        );
        checks += 1;
    }
    assert_eq!(checks, 4);
}
