//! `hushloop simulate`: the closed loop over the design's scenario, integers against real arithmetic.

use std::path::PathBuf;
use std::process::ExitCode;

use serde_json::json;

use super::Failure;
use super::text::{columns, duration};
use crate::build;
use crate::design;
use crate::verdict;

/// Arguments of `hushloop simulate`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file (TOML)
    design: PathBuf,
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
    let table = build::table(&design.sensing)?;
    let response = build::respond(&design, &table);
    let (figures, hunting) = build::figures(&design, &response);
    let reasons = verdict::loop_reasons(&design.control.accept, &figures, &hunting);
    if args.json {
        println!("{:#}", json!({"loop": figures, "hunting": hunting, "good": reasons.is_empty(), "reasons": reasons}));
    } else {
        println!("{}\n", design.title);
        let mut rows = vec![
            ["peak".to_owned(), format!("{:.2} degC", figures.peak_celsius)],
            ["below the set point by at most".to_owned(), format!("{:.2} K", figures.undershoot_celsius)],
            ["settles within".to_owned(), figures.settling_s.map_or("never".to_owned(), duration)],
            ["travel of the duty".to_owned(), format!("{:.1} full strokes an hour", figures.travel_per_hour)],
            ["integers from real arithmetic".to_owned(), format!("{:.3} K at most", figures.from_real_celsius_max)],
        ];
        if hunting.period_s > 0.0 {
            let word = if hunting.present { "hunts" } else { "oscillates acceptably" };
            rows.push([word.to_owned(), format!("period {:.0} s, amplitude {:.3} K", hunting.period_s, hunting.amplitude_celsius)]);
        }
        print!("{}", columns(&rows));
        for reason in &reasons {
            println!("not accepted: {reason}");
        }
    }
    Ok(if reasons.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
