//! `hushloop simulate`: the closed loop over the design's scenario, integers against real arithmetic.

use std::path::PathBuf;
use std::process::ExitCode;

use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;

use super::Failure;
use super::out::say;
use super::text::{columns, duration, paragraph};
use crate::bounds;
use crate::build;
use crate::design::{self, Design};
use crate::faults;
use crate::simulate::long;
use crate::simulate::metrics::Hunting;
use crate::tablegen::Table;
use crate::verdict::{self, LoopFigures};

/// Arguments of `hushloop simulate`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file (TOML)
    design: PathBuf,
    /// Injects every fault at many times of the scenario instead
    #[arg(long)]
    faults: bool,
    /// Repeats the scenario for so many days instead, and says whether anything drifts
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u16).range(1..=3660), conflicts_with = "faults")]
    days: Option<u16>,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

/// Runs the command: exit status 1 when the loop does something that the design does not accept.
///
/// # Errors
///
/// A design file that is wrong, or a table that cannot exist.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let design = design::load(&args.design)?;
    if args.faults {
        bounds::campaign(&design.control)?;
    } else if args.days.is_none() {
        bounds::scenario(&design.control)?;
    }
    let table = build::table(&design.sensing)?;
    if args.faults {
        return campaign(args, &design, &table);
    }
    if let Some(days) = args.days {
        return endurance(args, &design, &table, days);
    }
    let response = build::respond(&design, &table);
    let (figures, hunting) = build::figures(&design, &response);
    let reasons = verdict::loop_reasons(&design.control.accept, &figures, &hunting);
    if args.json {
        say(&format!(
            "{:#}\n",
            json!({"loop": figures, "hunting": hunting, "good": reasons.is_empty(), "reasons": reasons})
        ))?;
    } else {
        let mut text = paragraph(&design.title, "  ") + "\n";
        text += &columns(&loop_rows(&figures, &hunting));
        for reason in &reasons {
            text += &paragraph(&format!("not accepted: {reason}"), "  ");
        }
        say(&text)?;
    }
    Ok(if reasons.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// The figures of a simulated loop, one row each.
pub(super) fn loop_rows(r: &LoopFigures, hunting: &Hunting) -> Vec<[String; 2]> {
    let oscillation = if hunting.period_s > 0.0 {
        format!(
            "amplitude {:.3} K, period {:.0} s",
            hunting.amplitude_celsius, hunting.period_s
        )
    } else {
        "none".to_owned()
    };
    let travel = format!("{:.1} full strokes an hour", r.travel_per_hour);
    let from_real = format!("{:.4} K at most", r.from_real_celsius_max);
    let undershoot = format!("{:.2} K at most", r.undershoot_celsius);
    let settling = r.settling_s.map_or("never".to_owned(), duration);
    [
        ("peak", format!("{:.2} degC", r.peak_celsius)),
        ("below the set point", undershoot),
        ("settling", settling),
        ("oscillation", oscillation),
        ("travel of the duty", travel),
        ("from real arithmetic", from_real),
    ]
    .map(|(name, value)| [name.to_owned(), value])
    .into()
}

/// Days on end: exit status 1 when the loop gets hotter or colder than its hard limit allows, or the law leaves its bound.
fn endurance(args: &Args, design: &Design, table: &Table, days: u16) -> Result<ExitCode, Failure> {
    let bar = ProgressBar::new(0).with_style(
        ProgressStyle::with_template("{percent} % {bar:40} {eta}").expect("a template"),
    );
    let read = |code: u16| build::read(table, code);
    let f = long::run(design, &read, f64::from(days), &|done, all| {
        bar.set_length(all);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    let limit = design.control.accept.hard_limit_celsius;
    let good = f.peak_celsius <= limit && f.law_error_lsb_max <= 0.5;
    if args.json {
        say(&format!("{:#}\n", json!({"long": f, "good": good})))?;
    } else {
        let rows = [
            ("samples", format!("{} in {} days", f.samples, f.days)),
            ("hottest", format!("{:.2} degC", f.peak_celsius)),
            ("coldest", format!("{:.2} degC", f.least_celsius)),
            (
                "from real arithmetic",
                format!("{:.4} K at most", f.from_real_celsius_max),
            ),
            (
                "drift from it",
                format!("{:+.5} K, last tenth against first", f.drift_celsius),
            ),
            (
                "mean demand from it",
                format!("{:+.5} %", 100.0 * f.mean_demand_from_real),
            ),
            (
                "law",
                format!(
                    "at most {:.3} LSB from exact arithmetic",
                    f.law_error_lsb_max
                ),
            ),
        ];
        let mut text = paragraph(&design.title, "  ") + "\n";
        text += &columns(&rows.map(|(name, value)| [name.to_owned(), value]));
        if !good {
            text += &paragraph(
                &format!(
                    "not accepted: hotter than {limit} degC, or more than half an LSB from exact arithmetic"
                ),
                "  ",
            );
        }
        say(&text)?;
    }
    Ok(if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// The fault campaign: exit status 1 when a promise is broken.
fn campaign(args: &Args, design: &Design, table: &Table) -> Result<ExitCode, Failure> {
    let bar = ProgressBar::new(0).with_style(
        ProgressStyle::with_template("{pos} of {len} cases {bar:40} {eta}").expect("a template"),
    );
    let campaign = faults::run_campaign(design, &|code| build::read(table, code), &|cases| {
        bar.set_length(cases as u64);
        bar.inc(1);
    });
    bar.finish_and_clear();
    if args.json {
        say(&format!("{:#}\n", json!(campaign)))?;
    } else {
        say(&(paragraph(&design.title, "  ") + "\n" + &campaign.table()))?;
    }
    Ok(if campaign.violations == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}
