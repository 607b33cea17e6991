//! `hushloop divider`: how good the sensor really is, and which resistor suits it.

use std::path::PathBuf;
use std::process::ExitCode;

use serde_json::json;

use super::Failure;
use super::out::say;
use super::text::{columns, paragraph};
use crate::design;
use crate::divider::alias::{Alias, aliases};
use crate::divider::budget::{budget, sources};
use crate::divider::check::{Finding, Point, judge};
use crate::divider::resistor::{
    Goal, Series, most_accurate_resistor, step_celsius, whole_error_celsius,
};

/// Temperatures shown, ends included.
const ROWS: usize = 12;
/// Seed of the draws.
const SEED: u64 = 1;

/// Arguments of `hushloop divider`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file (TOML); its sensor sections are enough
    design: PathBuf,
    /// Two points measured on the bench, such as `36:0.923V 48:1.088V` or `25:10kohm 60:2981ohm`
    #[arg(long, num_args = 2, value_names = ["POINT", "POINT"])]
    check: Option<Vec<Point>>,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

/// Runs the command: exit status 1 when measured points contradict the design.
///
/// # Errors
///
/// A design that is wrong, or points that this divider cannot give.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let (sensing, control) = design::load_with_loop(&args.design)?;
    if let Some([first, second]) = args.check.as_deref() {
        let found =
            judge(&sensing, [*first, *second]).map_err(|e| Failure::Refused(e.to_string()))?;
        let agrees = found.finding == Finding::Agrees;
        if args.json {
            say(&format!(
                "{:#}\n",
                json!({"agrees": agrees, "finding": format!("{:?}", found.finding), "ohm": found.ohm,
                    "read_celsius": found.read_celsius, "implied_beta_kelvin": found.implied_beta_kelvin,
                    "advice": found.advice()})
            ))?;
        } else {
            say(&paragraph(&found.advice(), "  "))?;
        }
        return Ok(if agrees {
            ExitCode::SUCCESS
        } else {
            ExitCode::FAILURE
        });
    }
    let (low, high) = (sensing.table.low_celsius, sensing.table.high_celsius);
    let found = budget(&sensing, ROWS, SEED);
    let goal = Goal::Over(low, high);
    let best = most_accurate_resistor(&sensing);
    let now = sensing.sensor.divider.resistor_ohm;
    let step = |ohm: f64| step_celsius(&sensing.sensor, ohm, goal);
    let whole = |ohm: f64| whole_error_celsius(&sensing, ohm);
    // where the design works, or in the middle of its table
    let place = control
        .as_ref()
        .map_or(0.5 * (low + high), |control| control.set_point_celsius);
    let by_source = sources(&sensing, now, place).largest_first();
    let choices: Vec<(&str, f64)> = [Series::E12, Series::E24, Series::E96]
        .into_iter()
        .map(|series| (series.name(), series.nearest(best)))
        .collect();
    let sampling = control.as_ref().map(|control| aliases(&sensing, control));
    if args.json {
        let rows: Vec<_> = found
            .rows
            .iter()
            .map(|r| {
                json!({"celsius": r.celsius, "celsius_per_lsb": r.celsius_per_lsb, "self_heating": r.sources.self_heating,
                    "worst": r.worst, "root_sum_square": r.root_sum_square, "drawn_95": r.drawn_95})
            })
            .collect();
        let nearest: Vec<_> = choices
            .iter()
            .map(|(name, ohm)| json!({"series": name, "ohm": ohm, "coarsest_celsius_per_lsb": step(*ohm), "largest_error_celsius": whole(*ohm)}))
            .collect();
        let sampling = sampling.map(|list| {
            list.iter()
                .map(|a| {
                    json!({"disturbance": a.disturbance.name, "hertz": a.disturbance.hertz,
                        "alias_hertz": a.alias_hertz, "lowest_hertz": a.lowest_hertz, "left": a.left,
                        "critical": a.critical})
                })
                .collect::<Vec<_>>()
        });
        say(&format!(
            "{:#}\n",
            json!({"budget": rows, "seed": found.seed, "resistor_ohm": now, "best_ohm": best,
                "largest_error_celsius": whole(now), "best_largest_error_celsius": whole(best), "nearest": nearest,
                "sources": {"celsius": place, "kelvin": by_source.map(|(source, kelvin)| json!({"source": source, "kelvin": kelvin}))},
                "sampling": sampling})
        ))?;
        return Ok(ExitCode::SUCCESS);
    }
    let head = [
        "degC",
        "K a step",
        "self-heating",
        "worst case",
        "root sum square",
        "95 % of boxes",
    ]
    .map(str::to_owned);
    let mut rows = vec![head];
    rows.extend(found.rows.iter().map(|r| {
        let kelvin = |x: f64| match x {
            _ if x.is_finite() => format!("{x:.3}"),
            // a part at the end of its tolerance takes the code to the rail
            _ => "no bound".to_owned(),
        };
        [
            format!("{:.1}", r.celsius),
            kelvin(r.celsius_per_lsb),
            kelvin(r.sources.self_heating),
            kelvin(r.worst),
            kelvin(r.root_sum_square),
            kelvin(r.drawn_95),
        ]
    }));
    let mut text = columns(&rows);
    text += &format!("\nsources of the error at {place} degC, largest first:\n");
    let listed = by_source.map(|(source, kelvin)| [format!("  {source}"), format!("{kelvin:.3}")]);
    text += &columns(&listed);
    text += &format!("\nresistor, from {low} to {high} degC:\n");
    let row = |name: String, ohm: f64| {
        [
            format!("  {name}"),
            format!("{ohm:.0} ohm"),
            format!("{:.3}", whole(ohm)),
            format!("{:.3}", step(ohm)),
        ]
    };
    let mut rows = vec![
        ["", "", "largest error", "K a code"].map(str::to_owned),
        row("as designed".to_owned(), now),
        row("most accurate".to_owned(), best),
    ];
    rows.extend(
        choices
            .iter()
            .map(|(name, ohm)| row(format!("nearest {name}"), *ohm)),
    );
    text += &columns(&rows);
    text += &match (sampling, control) {
        (Some(list), Some(control)) => sampled(&list, control.period_s),
        _ => "\nhum and ripple: not judged, for the file has no [loop] and so no sample period\n"
            .to_owned(),
    };
    say(&text)?;
    Ok(ExitCode::SUCCESS)
}

/// What sampling makes of hum and ripple, for people.
fn sampled(list: &[Alias], period_s: f64) -> String {
    let mut text = format!("\nhum and ripple on the divider, one reading every {period_s} s:\n");
    let mut rows = vec![["  disturbance", "Hz", "appears at Hz", "left of it"].map(str::to_owned)];
    rows.extend(list.iter().map(|a| {
        [
            format!("  {}", a.disturbance.name),
            format!("{}", a.disturbance.hertz),
            if a.lowest_hertz < a.alias_hertz {
                format!("{:.2} down to {:.2}", a.alias_hertz, a.lowest_hertz)
            } else {
                format!("{:.2}", a.alias_hertz)
            },
            if a.critical {
                format!("{:.3}, slow enough for the loop to follow", a.left)
            } else {
                format!("{:.3}", a.left)
            },
        ]
    }));
    text.push_str(&columns(&rows));
    if list.iter().any(|a| a.critical) {
        text += &paragraph(
            "What the loop would follow should be down to a tenth: take the mean of a burst that lasts whole mains \
             cycles (adc.burst_samples, adc.burst_hertz), or put a capacitor at the converter's input \
             (divider.filter_nanofarad).",
            "",
        );
    }
    text
}
