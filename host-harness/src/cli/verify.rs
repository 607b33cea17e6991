//! `hushloop verify`: every claim about a design's law, and how it is known.

use std::path::PathBuf;
use std::process::ExitCode;

use super::Failure;
use super::out::say;
use super::text::{columns, paragraph};
use crate::design;
use crate::verify::{Claim, Effort, How, claims};

/// Arguments of `hushloop verify`.
#[derive(clap::Args)]
pub struct Args {
    /// The design file
    design: PathBuf,
    /// Solvers and long sweeps too: minutes instead of seconds
    #[arg(long)]
    full: bool,
    /// Another certificate than the one this program was compiled with
    #[arg(long, value_name = "FILE", conflicts_with = "full")]
    certificate: Option<PathBuf>,
    /// With --full: a Python interpreter that has the packages z3-solver and cvc5
    #[arg(
        long,
        value_name = "PYTHON",
        default_value = "python3",
        requires = "full"
    )]
    solvers: PathBuf,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

fn row(claim: &Claim) -> [String; 4] {
    let verdict = match claim.holds {
        Some(true) => "holds",
        Some(false) => "FAILS",
        None => "-",
    };
    let cases = if claim.how == How::NotClaimed {
        String::new()
    } else {
        claim.cases.to_string()
    };
    let file = match claim.file {
        "" => String::new(),
        file => format!(": {file}"),
    };
    [
        claim.how.text().to_string(),
        verdict.to_string(),
        cases,
        format!("{} ({}){}", claim.claim, claim.note, file),
    ]
}

/// Runs the command.
///
/// # Errors
///
/// A design that is wrong, or solvers that cannot be run.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let design = design::load(&args.design)?;
    let effort = match &args.certificate {
        _ if args.full => Effort::Full(args.solvers.clone()),
        None => Effort::quick(),
        Some(path) => {
            let text = std::fs::read_to_string(path)
                .map_err(|e| Failure::Refused(format!("{}: {e}", path.display())))?;
            Effort::Quick(text)
        }
    };
    let bar = indicatif::ProgressBar::new(1);
    if let Ok(style) = indicatif::ProgressStyle::with_template("{msg:14} {wide_bar} {pos}/{len}") {
        bar.set_style(style);
    }
    let progress = |stage: &str, done: u64, of: u64| {
        bar.set_message(stage.to_string());
        bar.set_length(of);
        bar.set_position(done);
    };
    let list = claims(&design.control.integers, &effort, &progress);
    bar.finish_and_clear();
    let list = list.map_err(|why| {
        let remedy =
            "; --solvers takes a Python interpreter that has the packages z3-solver and cvc5";
        Failure::Refused(format!("{why}{}", if args.full { remedy } else { "" }))
    })?;
    if args.json {
        let text =
            serde_json::to_string_pretty(&list).map_err(|e| Failure::Refused(e.to_string()))?;
        say(&format!("{text}\n"))?;
    } else {
        let mut text = columns(&list.iter().map(row).collect::<Vec<_>>());
        let control = &design.control;
        if let Some(advice) = crate::advice::on_loop(&control.integers, control.period_s) {
            text.push('\n');
            text += &paragraph(&format!("note: {advice}"), "  ");
        }
        say(&text)?;
    }
    let good = list.iter().all(|c| c.holds != Some(false));
    Ok(if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    })
}
