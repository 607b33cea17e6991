//! The committed table of figures, `benches/targets.csv`: compared with what was measured, or renewed.

use crate::figures::{Figure, Run};
use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use std::collections::BTreeMap;

const HEADER: &str = "target,unit,subject,mean,worst,flash_bytes,stack_bytes";
/// A figure may be this much worse than the committed one.
const TOLERANCE: f64 = 0.03;

type Rows = BTreeMap<(Target, String), Figure>;

fn read(text: &str) -> Result<Rows, String> {
    let mut rows = Rows::new();
    for (number, line) in text
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.starts_with('#') && *line != HEADER)
    {
        let bad = || format!("line {}: {line}", number + 1);
        let fields: Vec<&str> = line.split(',').collect();
        let [triple, _, subject, mean, worst, flash, stack] = fields[..] else {
            return Err(bad());
        };
        let target = Target::ALL
            .into_iter()
            .find(|target| target.triple() == triple)
            .ok_or_else(bad)?;
        let figure = Figure {
            mean: mean.parse().map_err(|_| bad())?,
            worst: worst.parse().map_err(|_| bad())?,
            flash: flash.parse().map_err(|_| bad())?,
            stack: stack.parse().map_err(|_| bad())?,
        };
        rows.insert((target, subject.to_owned()), figure);
    }
    Ok(rows)
}

fn text(rows: &Rows) -> String {
    let mut text = String::from(
        "# What one call costs on the four targets, measured under simulators: renew with `.ci/on-target --write`.\n\
         # cycles or instructions: see the column. The msp430 simulator reads 4 to 17 % high.\n\
         # flash_bytes: the code the subject reaches, helpers included, tables not. stack_bytes: by painting.\n\
         # image/application: all of its flash, and all of its RAM (static and stack) under stack_bytes; no time.\n",
    );
    text.push_str(HEADER);
    text.push('\n');
    for ((target, subject), figure) in rows {
        text.push_str(&format!(
            "{},{},{subject},{:.1},{:.0},{},{}\n",
            target.triple(),
            target.unit(),
            figure.mean,
            figure.worst,
            figure.flash,
            figure.stack
        ));
    }
    text
}

fn worse(got: &Figure, committed: &Figure) -> Option<String> {
    let mut complaints = Vec::new();
    let mut compare = |what: &str, got: f64, committed: f64| {
        // Half a unit of the last printed digit, so that rounding is never a regression.
        if got > committed * (1.0 + TOLERANCE) + 0.05 {
            complaints.push(format!("{what} {got:.1}, committed {committed:.1}"));
        }
    };
    compare("mean", got.mean, committed.mean);
    compare("worst", got.worst, committed.worst);
    compare("flash", got.flash as f64, committed.flash as f64);
    compare("stack", f64::from(got.stack), f64::from(committed.stack));
    (!complaints.is_empty()).then(|| complaints.join("; "))
}

/// Compares, or with `write` renews.
pub fn check(tree: &Tree, runs: &[Run], write: bool, report: &mut Report) {
    let path = tree.root.join("benches/targets.csv");
    let committed = std::fs::read_to_string(&path)
        .map_err(|error| error.to_string())
        .and_then(|text| read(&text));
    let measured: Rows = runs
        .iter()
        .flat_map(|run| {
            run.figures
                .iter()
                .map(|(subject, figure)| ((run.target, subject.clone()), figure.clone()))
        })
        .collect();
    if write {
        // Targets that were not run keep their rows.
        let mut rows = committed.unwrap_or_default();
        rows.retain(|(target, _), _| !runs.iter().any(|run| run.target == *target));
        rows.extend(measured);
        let result = std::fs::write(&path, text(&rows)).map(|()| format!("{} rows", rows.len()));
        report.check(
            "renewed benches/targets.csv",
            result.map_err(|error| error.to_string()),
        );
        return;
    }
    let committed = match committed {
        Ok(committed) => committed,
        Err(error) => return report.fail(&format!("benches/targets.csv: {error}")),
    };
    for (key, got) in &measured {
        let what = format!("{} {}", key.0.triple(), key.1);
        match committed.get(key) {
            Some(figure) => report.check(&what, worse(got, figure).map_or(Ok(String::new()), Err)),
            None => report.fail(&format!(
                "{what}: not in the committed table; renew it with --write"
            )),
        }
    }
    for key in committed
        .keys()
        .filter(|key| runs.iter().any(|run| run.target == key.0) && !measured.contains_key(*key))
    {
        report.fail(&format!(
            "{} {}: committed, but not measured",
            key.0.triple(),
            key.1
        ));
    }
}
