//! `hushloop keys`: every number a design file may hold.

use std::process::ExitCode;

use serde_json::json;

use super::Failure;
use super::text::columns;
use crate::design::quantity::{ALL, Quantity, plain};

/// Arguments of `hushloop keys`.
#[derive(clap::Args)]
pub struct Args {
    /// Only this section, without brackets (`loop`, `scenario.event`)
    section: Option<String>,
    /// Machine-readable output
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
///
/// A section that does not exist.
pub fn run(args: &Args) -> Result<ExitCode, Failure> {
    let wanted = |q: &&Quantity| args.section.as_deref().is_none_or(|s| s == q.section);
    let found: Vec<&Quantity> = ALL.iter().filter(wanted).collect();
    if found.is_empty() {
        let mut sections: Vec<&str> = ALL.iter().map(|q| q.section).collect();
        sections.dedup();
        let asked = args.section.as_deref().unwrap_or("");
        return Err(Failure::Refused(format!(
            "no section `{asked}`; accepted: {}",
            sections.join(", ")
        )));
    }
    if args.json {
        let rows: Vec<_> = found
            .iter()
            .map(|q| {
                json!({"section": q.section, "key": q.key, "unit": q.unit, "min": q.min, "max": q.max,
                    "default": q.default, "meaning": q.meaning})
            })
            .collect();
        println!("{:#}", json!(rows));
        return Ok(ExitCode::SUCCESS);
    }
    let mut section = "";
    let mut rows: Vec<[String; 4]> = Vec::new();
    let flush = |rows: &mut Vec<[String; 4]>| {
        print!("{}", columns(rows));
        rows.clear();
    };
    for q in found {
        if q.section != section {
            flush(&mut rows);
            println!(
                "{}[{}]",
                if section.is_empty() { "" } else { "\n" },
                q.section
            );
            section = q.section;
        }
        rows.push([
            format!("  {}", q.key),
            format!("{} to {} {}", plain(q.min), plain(q.max), q.unit),
            q.default
                .map_or_else(String::new, |d| format!("default {}", plain(d))),
            q.meaning.to_owned(),
        ]);
    }
    flush(&mut rows);
    Ok(ExitCode::SUCCESS)
}
