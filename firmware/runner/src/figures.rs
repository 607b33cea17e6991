//! Runs the figures image and reads its lines.

use crate::image::Code;
use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use crate::{cargo, simulator};
use std::collections::BTreeMap;

/// What one call of a subject costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Mean over the series, in the target's unit.
    pub mean: f64,
    /// Worst call of the series.
    pub worst: f64,
    /// Code reached, bytes.
    pub flash: u64,
    /// Stack by painting, bytes.
    pub stack: u32,
}

/// One target's run.
pub struct Run {
    /// The target.
    pub target: Target,
    /// Figures by subject.
    pub figures: BTreeMap<String, Figure>,
    /// Checksums of the results by subject: of the timed series, and of the traces.
    pub checksums: BTreeMap<String, u32>,
}

/// The symbol of a subject.
pub fn symbol(subject: &str) -> String {
    subject.replace(['/', '-'], "_")
}

fn parse(target: Target, text: &str, code: &Code) -> Result<Run, String> {
    if !text.lines().any(|line| line.trim() == "end") {
        return Err(format!(
            "the image did not reach its end; last line: {}",
            text.lines().last().unwrap_or("")
        ));
    }
    let mut figures: BTreeMap<String, Figure> = BTreeMap::new();
    let mut checksums = BTreeMap::new();
    let mut overhead = None;
    for line in text.lines() {
        let mut fields = line.split_whitespace();
        let (Some(kind), Some(subject)) = (fields.next(), fields.next()) else {
            continue;
        };
        let numbers: Vec<u32> = fields
            .map_while(|field| u32::from_str_radix(field, 16).ok())
            .collect();
        match (kind, &numbers[..]) {
            ("overhead", [calls, sum, ..]) => overhead = Some(f64::from(*sum) / f64::from(*calls)),
            ("time", [calls, sum, worst, checksum]) => {
                let overhead = overhead.ok_or("a figure came before the cost of the counter")?;
                let steps = target.counter_steps();
                let symbol = symbol(subject);
                if !code.has(&symbol) {
                    return Err(format!(
                        "subject {subject} has no symbol {symbol} in the image"
                    ));
                }
                let figure = Figure {
                    mean: (f64::from(*sum) / f64::from(*calls) - overhead) / steps,
                    worst: ((f64::from(*worst) - overhead) / steps).round(),
                    flash: code.bytes(&[&symbol]),
                    stack: 0,
                };
                figures.insert(subject.to_owned(), figure);
                checksums.insert(format!("series {subject}"), *checksum);
            }
            ("stack", [bytes]) => {
                figures
                    .get_mut(subject)
                    .ok_or(format!("stack of {subject} without its time"))?
                    .stack = *bytes;
            }
            ("trace", [checksum]) => {
                checksums.insert(format!("trace {subject}"), *checksum);
            }
            _ => {}
        }
    }
    Ok(Run {
        target,
        figures,
        checksums,
    })
}

/// Runs the image on every target.
pub fn run(tree: &Tree, targets: &[Target], report: &mut Report) -> Vec<Run> {
    let mut runs = Vec::new();
    for target in targets {
        let path = cargo::image(tree, *target, "release", "figures");
        let run = Code::read(*target, &path).and_then(|code| {
            simulator::run(*target, &path).and_then(|text| parse(*target, &text, &code))
        });
        match run {
            Ok(run) => {
                report.pass(&format!(
                    "{}: {} subjects",
                    target.triple(),
                    run.figures.len()
                ));
                runs.push(run);
            }
            Err(reason) => report.fail(&format!("{}: {reason}", target.triple())),
        }
    }
    print(&runs);
    runs
}

fn print(runs: &[Run]) {
    let mut subjects: Vec<&String> = runs.iter().flat_map(|run| run.figures.keys()).collect();
    subjects.sort();
    subjects.dedup();
    print!("{:24}", "mean (worst) code/stack");
    for run in runs {
        print!(
            " {:>28}",
            format!(
                "{} {}",
                run.target.triple().split('-').next().unwrap_or(""),
                run.target.unit()
            )
        );
    }
    println!();
    for subject in subjects {
        print!("{subject:24}");
        for run in runs {
            let cell = run.figures.get(subject).map_or("-".to_owned(), |figure| {
                format!(
                    "{:.1} ({}) {}/{}",
                    figure.mean, figure.worst, figure.flash, figure.stack
                )
            });
            print!(" {cell:>28}");
        }
        println!();
    }
}
