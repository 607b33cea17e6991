//! `hushloop keys`: every key a design file may hold.

use std::process::ExitCode;

use serde_json::json;

use super::Failure;
use super::out::say;
use super::text::columns;
use crate::design::keys::{ALL, Entry, Kind};

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
    let entries: Vec<&Entry> = ALL.iter().map(|key| key.entry()).collect();
    let is_section = |e: &Entry| matches!(e.kind, Kind::Section | Kind::Sections);
    let found: Vec<&Entry> = entries
        .iter()
        .copied()
        .filter(|e| match args.section.as_deref() {
            None => true,
            Some(wanted) => e.section == wanted || (is_section(e) && e.label() == wanted),
        })
        .collect();
    if found.is_empty() || args.section.as_deref() == Some("") {
        let sections: Vec<String> = entries
            .iter()
            .filter(|e| is_section(e))
            .map(|e| e.label())
            .collect();
        let asked = args.section.as_deref().unwrap_or("");
        return Err(Failure::Refused(format!(
            "no section `{asked}`; accepted: {}",
            sections.join(", ")
        )));
    }
    if args.json {
        let all: Vec<_> = found.iter().map(|e| e.to_json()).collect();
        say(&format!("{:#}\n", json!(all)))?;
        return Ok(ExitCode::SUCCESS);
    }
    let mut text = String::new();
    // one block a section, so that its columns are as wide as it needs
    for block in found.chunk_by(|_, next| !is_section(next)) {
        if !text.is_empty() {
            text.push('\n');
        }
        let (heads, keys) = block.split_at(usize::from(is_section(block[0])));
        for head in heads {
            let name = match head.kind {
                Kind::Sections => format!("[[{}]]", head.label()),
                _ => format!("[{}]", head.label()),
            };
            let what = format!("{} ({})", head.meaning, head.when_absent());
            text += &columns(&[[name, what]]);
        }
        let lines: Vec<[String; 2]> = keys
            .iter()
            .map(|e| {
                let what = format!("{}: {}; {}", e.meaning, e.values(), e.when_absent());
                [format!("  {}", e.name), what]
            })
            .collect();
        text += &columns(&lines);
    }
    say(&text)?;
    Ok(ExitCode::SUCCESS)
}
