//! The campaign in words and columns.

use super::campaign::{Campaign, Row};

fn seconds(s: Option<f64>) -> String {
    match s {
        None => "-".to_owned(),
        Some(s) if s < 100.0 => format!("{s:.1}"),
        Some(s) => format!("{s:.0}"),
    }
}

fn row(r: &Row) -> [String; 10] {
    [
        r.fault.clone(),
        r.cases.to_string(),
        r.violations.to_string(),
        r.unobservable.to_string(),
        format!("{:.1}", r.worst_celsius),
        r.made_safe.to_string(),
        seconds(r.safe_after_s),
        seconds(r.stated_s),
        if r.passing == 0 {
            "-".to_owned()
        } else {
            format!("{} of {}", r.recovered, r.passing)
        },
        seconds(r.recovered_after_s),
    ]
}

const HEAD: [&str; 10] = [
    "fault", "cases", "broken", "unseen", "degC", "safe", "in s", "of s", "back", "in s",
];

/// What the heads stand for, below the table.
const LEGEND: &str = "broken: cases in which a promise was broken. unseen: cases that no firmware can see. degC: hottest \
    in the others. safe: cases in which the controller put the actuator into its safe state, at the latest so many \
    seconds (in s) after the fault, of the seconds that are promised (of s). back: of the faults that pass, how many \
    ended with the loop running again, at the latest so many seconds after.";

/// Longest line of the sentences below the table.
const WIDTH: usize = 80;

/// Columns: words to the left, numbers to the right.
fn aligned(rows: &[[String; 10]]) -> String {
    let mut widths = [0; 10];
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = cell.chars().count().max(*width);
        }
    }
    let mut out = String::new();
    for row in rows {
        let cells: Vec<String> = row
            .iter()
            .zip(widths)
            .enumerate()
            .map(|(at, (cell, width))| {
                if at == 0 {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            })
            .collect();
        // one space: ten columns have to fit into eighty characters
        out.push_str(cells.join(" ").trim_end());
        out.push('\n');
    }
    out
}

impl Campaign {
    /// The table, with what it means below it.
    #[must_use]
    pub fn table(&self) -> String {
        let mut rows = vec![HEAD.map(str::to_owned)];
        rows.extend(self.faults.iter().map(row));
        let mut out = aligned(&rows);
        let mut say = |text: &str| {
            out.push_str(&textwrap::fill(text, WIDTH));
            out.push('\n');
        };
        say("");
        say(LEGEND);
        say("");
        say(&format!(
            "{} cases at {} times of the scenario: {} broken promises, {} unseen; hottest {:.1} degC of a hard limit of \
             {:.1} degC",
            self.cases,
            self.times,
            self.violations,
            self.unobservable,
            self.worst_celsius,
            self.hard_limit_celsius
        ));
        if let Some(healthy) = &self.healthy {
            say(&format!("broken: {healthy}"));
        }
        for row in &self.faults {
            for reason in &row.reasons {
                say(&format!("broken: {}: {reason}", row.fault));
            }
        }
        if let Some(worst) = self.worst_unobservable_celsius {
            say(&format!(
                "Unseen means that the actuator does not obey, or that a plausible reading is false by more than the \
                 drift the design declares. No firmware can rule that out, and such a case is never counted as passed: \
                 the worst reached {worst:.1} degC. An independent thermal cut-out is the only protection."
            ));
        }
        out
    }
}
