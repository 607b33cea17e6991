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
use crate::margins::figures::MarginFigures;
use crate::simulate::long;
use crate::tablegen::Table;
use crate::verdict::{Reason, Simulated};

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
    let (figures, reasons) = Simulated::judge(&design, &response);
    let good = reasons.is_empty();
    if args.json {
        let mut value = json!(figures);
        value["good"] = json!(good);
        value["reasons"] = json!(reasons);
        say(&format!("{value:#}\n"))?;
    } else {
        let mut text = paragraph(&design.title, "  ") + "\n";
        text += &columns(&loop_rows(&figures));
        text += &format!("\n{}", margin_text(&figures.margins));
        text += &format!("\n{}", verdict_text(&reasons));
        say(&text)?;
    }
    Ok(if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// The verdict in words: one line, then two for each reason.
pub(super) fn verdict_text(reasons: &[Reason]) -> String {
    let mut text = format!(
        "verdict: {}\n",
        if reasons.is_empty() { "good" } else { "BAD" }
    );
    for reason in reasons {
        text += &paragraph(&format!("  - {}", reason.what), "    ");
        text += &paragraph(&format!("    to do: {}", reason.remedy), "      ");
    }
    text
}

/// The figures of a simulated loop, one row each.
pub(super) fn loop_rows(figures: &Simulated) -> Vec<[String; 2]> {
    let (r, t, hunting, judged) = (
        &figures.response,
        &figures.travel,
        &figures.hunting,
        &figures.judged,
    );
    let oscillation = if hunting.period_s > 0.0 {
        format!(
            "amplitude {:.3} K, period {:.0} s",
            hunting.amplitude_celsius, hunting.period_s
        )
    } else {
        "none found".to_owned()
    };
    let settling = match r.settling_s {
        None => "not settled".to_owned(),
        Some(s) => {
            let rest = if r.resting_at_least {
                "; at rest with the actuator at its least"
            } else {
                ""
            };
            format!(
                "{}, then stayed for {} or more{rest}",
                duration(s),
                duration(r.stayed_s)
            )
        }
    };
    let mut went_on = format!(
        "{} of {} stretches",
        judged.stretches - judged.not_judged - judged.repeated,
        judged.stretches
    );
    if judged.repeated > 0 {
        went_on += &format!("; {} repeat another", judged.repeated);
    }
    if judged.not_judged > 0 {
        went_on += &format!("; {} too short to judge", judged.not_judged);
    }
    if judged.gone_on > 0 {
        went_on += &format!(
            "; the run went on after {} too short, for up to {}",
            judged.gone_on,
            duration(judged.longest_on_s)
        );
    }
    let alarms: Vec<&str> = figures.alarms.iter().map(|a| a.alarm).collect();
    [
        ("peak", format!("{:.2} degC", r.peak_celsius)),
        (
            "below the set point",
            format!("{:.2} K at most", r.undershoot_celsius),
        ),
        ("settling", settling),
        (
            "steady offset",
            format!("{:+.2} K at most", r.offset_celsius),
        ),
        ("oscillation", oscillation),
        (
            "travel of the duty",
            format!(
                "{:.1} full strokes an hour, and {:.1} of noise",
                t.motion_per_hour, t.jitter_per_hour
            ),
        ),
        (
            "largest step of the duty",
            format!("{:.1} % of full", t.largest_step_percent),
        ),
        ("starts", format!("{:.1} an hour", t.starts_per_hour)),
        (
            "alarms without a fault",
            if alarms.is_empty() {
                "none".to_owned()
            } else {
                alarms.join(", ")
            },
        ),
        ("judged", went_on),
        (
            "from real arithmetic",
            format!("{:.4} K at most", r.from_real_celsius_max),
        ),
    ]
    .map(|(name, value)| [name.to_owned(), value])
    .into()
}

/// Margins at each operating point: a row of figures, and the words below it.
pub(super) fn margin_text(margins: &[MarginFigures]) -> String {
    let or = |value: Option<f64>, unit: &str, none: &str| {
        value.map_or_else(|| none.to_owned(), |v| format!("{v:.1} {unit}"))
    };
    let mut text = "margins of the loop, linear round each operating point\n".to_owned();
    for m in margins {
        let limit = if m.at_limit { " (its limit)" } else { "" };
        let rows = [[
            format!(
                "  {:.0} W, {:.0} degC around, set point {:.0} degC, duty {:.0} %{limit}",
                m.load_w, m.ambient_celsius, m.set_point_celsius, m.duty_percent
            ),
            format!(
                "Ms {}, gain {}, phase {}",
                m.sensitivity_max
                    .map_or_else(|| "none".to_owned(), |v| format!("{v:.2}")),
                or(m.gain_margin_db, "dB", "without limit"),
                or(m.phase_margin_degrees, "degrees", "without limit"),
            ),
        ]];
        text += &columns(&rows);
        text += &paragraph(&format!("    {}", m.words), "    ");
    }
    text
}

/// Days on end: exit status 1 when the loop gets hotter or colder than its hard limit allows, or the law leaves its bound.
fn endurance(args: &Args, design: &Design, table: &Table, days: u16) -> Result<ExitCode, Failure> {
    let bar = ProgressBar::new(0).with_style(
        ProgressStyle::with_template("{percent} % {wide_bar} {eta}").expect("a template"),
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
                    "at most {:.3} LSB from exact arithmetic over {} samples",
                    f.law_error_lsb_max, f.law_samples
                ),
            ),
        ];
        let mut text = paragraph(&design.title, "  ") + "\n";
        text += &columns(&rows.map(|(name, value)| [name.to_owned(), value]));
        text += &format!("\nverdict: {}\n", if good { "good" } else { "BAD" });
        if !good {
            text += &paragraph(
                &format!(
                    "  - hotter than {limit} degC, or more than half an LSB from exact arithmetic"
                ),
                "    ",
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
        ProgressStyle::with_template("{pos} of {len} cases {wide_bar} {eta}").expect("a template"),
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
