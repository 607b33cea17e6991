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
    "fault",
    "cases",
    "violations",
    "unobservable",
    "worst degC",
    "made safe",
    "after s",
    "stated s",
    "recovered",
    "after s",
];

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
        out.push_str(cells.join("  ").trim_end());
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
        out.push_str(&format!(
            "\n{} cases at {} times of the scenario: {} violations, {} unobservable; worst {:.1} degC of a hard limit of {:.1} degC\n",
            self.cases, self.times, self.violations, self.unobservable, self.worst_celsius, self.hard_limit_celsius
        ));
        if let Some(healthy) = &self.healthy {
            out.push_str(&format!("violation: {healthy}\n"));
        }
        for row in &self.faults {
            for reason in &row.reasons {
                out.push_str(&format!("violation: {}: {reason}\n", row.fault));
            }
        }
        if let Some(worst) = self.worst_unobservable_celsius {
            out.push_str(&format!(
                "Unobservable means that the actuator does not obey, or that a plausible reading is false by more than the\n\
                 drift the design declares. No firmware can rule that out, and such a case is never counted as passed: the\n\
                 worst reached {worst:.1} degC. An independent thermal cut-out is the only protection.\n"
            ));
        }
        out
    }
}
