//! `hushloop build`: the main job.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use serde_json::Value;

use super::Failure;
use super::out::say;
use super::place;
use super::simulate::{loop_rows, verdict_text};
use super::text::{columns, paragraph};
use crate::against::changes;
use crate::bounds;
use crate::build::{self, Built};
use crate::design::{self, Design};
use crate::report::CAUTIONS;
use crate::verdict::Verdict;

/// Arguments of `hushloop build`.
#[derive(clap::Args)]
pub struct Args {
    /// Design file (TOML)
    design: PathBuf,
    /// Directory for the results; made when absent
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Print what changed in verdict and integers since the results in this directory
    #[arg(long, value_name = "OLD_DIR")]
    against: Option<PathBuf>,
    /// Print the verdict as JSON
    #[arg(long)]
    json: bool,
}

/// Runs the command: exit status 0 for a good verdict, 1 for a bad one (all files are written all the same).
///
/// # Errors
///
/// A design that is wrong, a table that cannot exist, a file that cannot be read or written.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let design = design::load(&args.design)?;
    bounds::scenario(&design.control)?;
    let old = args.against.as_deref().map(read_result).transpose()?;
    let built = build::build(&design)?;
    place::directory(&args.out, &built.files)?;
    if args.json {
        say(&built.verdict.to_json())?;
    } else {
        say(&in_words(&design, &built, &args.out))?;
    }
    if let Some(old) = old {
        let text = |name: &str| {
            built
                .files
                .iter()
                .find(|(n, _)| *n == name)
                .map_or("", |(_, b)| std::str::from_utf8(b).unwrap_or(""))
        };
        let verdict: Value = serde_json::from_str(text("verdict.json")).unwrap_or(Value::Null);
        let found = changes(
            (&old.0, &old.1),
            (
                &(text("firmware.h").to_owned() + text("firmware.c")),
                &verdict,
            ),
        );
        let dir = args.against.as_deref().unwrap_or(Path::new(""));
        let mut text = format!("\nagainst {}:\n", dir.display());
        if found.is_empty() {
            text += "  nothing changed\n";
        }
        let rows: Vec<[String; 2]> = found
            .into_iter()
            .map(|(name, old, new)| [format!("  {name}"), difference(&old, &new)])
            .collect();
        text += &columns(&rows);
        say(&text)?;
    }
    Ok(if built.verdict.good {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// Values in a list above which not the lists are shown but how far they differ.
const LIST_SHOWN: usize = 8;

/// An old and a new value, side by side; of two long lists how many values differ and where that begins.
fn difference(old: &str, new: &str) -> String {
    let (before, after): (Vec<&str>, Vec<&str>) =
        (old.split(' ').collect(), new.split(' ').collect());
    let is_list =
        |list: &[&str]| list.len() > LIST_SHOWN && list.iter().all(|v| v.parse::<i64>().is_ok());
    if !is_list(&before) || !is_list(&after) {
        return format!("{old} -> {new}");
    }
    let mut differ = before
        .iter()
        .zip(&after)
        .enumerate()
        .filter(|(_, (a, b))| a != b);
    let longer = before.len().abs_diff(after.len());
    let first = differ.clone().next().map_or_else(
        || format!("from [{}] on", before.len().min(after.len())),
        |(at, (a, b))| format!("the first [{at}]: {a} -> {b}"),
    );
    let sizes = if longer == 0 {
        format!("{} values", after.len())
    } else {
        format!("{} -> {} values", before.len(), after.len())
    };
    let count = differ.by_ref().count() + longer;
    format!("{sizes}, {count} differ, {first}")
}

/// The comparable files of an earlier result.
fn read_result(dir: &Path) -> Result<(String, Value), Failure> {
    let read = |name: &str| {
        let path = dir.join(name);
        std::fs::read_to_string(&path).map_err(|e| Failure::File(path, e))
    };
    let (c, verdict) = (
        read("firmware.h")? + &read("firmware.c")?,
        read("verdict.json")?,
    );
    let verdict = serde_json::from_str(&verdict).map_err(|e| {
        Failure::Refused(format!(
            "{}: not a verdict: {e}; accepted: a directory that `hushloop build` wrote",
            dir.display()
        ))
    })?;
    Ok((c, verdict))
}

fn in_words(design: &Design, built: &Built, out: &Path) -> String {
    let v = &built.verdict;
    let mut rows = figures(v);
    let k = &design.control.integers;
    let derivative = if k.has_derivative() {
        format!(", kd {} / 2^{}", k.kd, k.scale)
    } else {
        String::new()
    };
    rows.push([
        "gains".to_owned(),
        format!(
            "kp {} / 2^{}, ki {} / 2^16{derivative}",
            k.kp, k.scale, k.ki
        ),
    ]);
    let mut text = format!("{}\n{}", paragraph(&design.title, "  "), columns(&rows));
    text += &format!("\n{}", verdict_text(&v.reasons));
    if let Some(advice) = crate::advice::on_loop(k, design.control.period_s) {
        text.push('\n');
        text += &paragraph(&format!("note: {advice}"), "  ");
    }
    for group in built.costs.chunk_by(|[_, a, _], [_, b, _]| a == b) {
        text.push('\n');
        text += &paragraph(&format!("{}:", group[0][1]), "  ");
        let rows: Vec<[String; 2]> = group
            .iter()
            .map(|[target, _, figure]| [format!("  {target}"), figure.clone()])
            .collect();
        text += &columns(&rows);
    }
    let names: Vec<&str> = built.files.iter().map(|(name, _)| *name).collect();
    text.push('\n');
    text += &paragraph(&format!("wrote {} to", names.join(", ")), "  ");
    text += &format!("  {}\n", out.display());
    if !v.good {
        let refuse =
            "firmware.rs, firmware.h and firmware.c refuse to compile while the verdict is bad";
        text += &paragraph(refuse, "  ");
    }
    text.push('\n');
    text + &paragraph(CAUTIONS[0], "")
}

/// The verdict's figures, one row each.
fn figures(v: &Verdict) -> Vec<[String; 2]> {
    let overflow = if v.overflow.possible {
        "possible".to_owned()
    } else {
        format!(
            "cannot happen ({} operations bounded)",
            v.overflow.operations
        )
    };
    let table = format!(
        "{} bytes ({}), error at most {:.4} K over {} codes",
        v.table.bytes, v.table.encoding, v.table.error_celsius_max, v.table.codes
    );
    let mut rows = vec![
        ["table".to_owned(), table],
        ["law".to_owned(), v.law.text()],
        ["overflow".to_owned(), overflow],
    ];
    rows.extend(loop_rows(&v.simulated));
    rows
}
