//! The verdict: every figure of a design measured against what its maker will accept, and why it fails where it does.

mod alarms;
mod causes;
mod figures;
mod limits;
mod reason;

#[cfg(test)]
mod tests;

use serde::Serialize;

pub use figures::{
    JudgedFigures, LawFigures, LoopFigures, OverflowFigures, TableFigures, TravelFigures,
};
pub use reason::{Code, Reason};

use crate::design::Design;
use crate::margins::figures::MarginFigures;
use crate::margins::operating;
use crate::simulate::Response;
use crate::simulate::metrics::{Hunting, Raised};

/// Figures of a simulated loop, all that is judged of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Simulated {
    /// The loop.
    #[serde(rename = "loop")]
    pub response: LoopFigures,
    /// The actuator.
    pub travel: TravelFigures,
    /// Oscillation.
    pub hunting: Hunting,
    /// Alarms that came up in a run without any fault.
    pub alarms: Vec<Raised>,
    /// How much of the scenario could be judged.
    pub judged: JudgedFigures,
    /// Margins of the loop at each operating point, from the linearised plant.
    pub margins: Vec<MarginFigures>,
}

impl Simulated {
    /// Figures of a response, and what is not accepted of them.
    #[must_use]
    pub fn judge(design: &Design, response: &Response) -> (Self, Vec<Reason>) {
        let mut figures = figures::simulated(response);
        figures.margins = operating::margins(design)
            .iter()
            .map(MarginFigures::of)
            .collect();
        let mut reasons = causes::of_design(design);
        reasons.extend(alarms::reasons(design, response, &figures));
        limits::reasons(design, response, &figures, &mut reasons);
        // where the run shows its trouble itself, that says more than the margin
        if reasons.is_empty() {
            let accepted = design.control.accept.sensitivity_max;
            let narrow = figures.margins.iter().find_map(|m| m.refusal(accepted));
            reasons.extend(narrow.map(|what| {
                Reason::new(
                    Code::Sensitivity,
                    what,
                    "lower gains, a lower ki first; or less dead time between what is driven and the sensor",
                )
            }));
        }
        (figures, reasons)
    }
}

/// The verdict on a design.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// True when nothing was found that the design does not accept.
    pub good: bool,
    /// What was found; empty when good.
    pub reasons: Vec<Reason>,
    /// The table.
    pub table: TableFigures,
    /// The law.
    pub law: LawFigures,
    /// Overflow.
    pub overflow: OverflowFigures,
    /// The loop, its actuator, cycles and alarms.
    #[serde(flatten)]
    pub simulated: Simulated,
}

/// Half an LSB: the bound that the law's rounding promises.
pub const LAW_ERROR_BOUND_LSB: f64 = 0.5;

impl Verdict {
    /// Judges the figures.
    #[must_use]
    pub fn judge(
        design: &Design,
        table: TableFigures,
        overflow: OverflowFigures,
        response: &Response,
    ) -> Self {
        let mut reasons = Vec::new();
        if overflow.possible {
            reasons.push(Reason::new(
                Code::Overflow,
                "an operation of the law could overflow with these gains and limits",
                "lower gains",
            ));
        }
        let wanted = design.sensing.table.error_celsius;
        if table.error_celsius_max > wanted {
            reasons.push(Reason::new(
                Code::TableError,
                format!(
                    "the table errs by {:.4} K; table.error_celsius accepts {wanted} K",
                    table.error_celsius_max
                ),
                "a larger table.error_celsius, or another table.encoding",
            ));
        }
        let law = LawFigures::of(&response.law);
        if let Some(error) = law.error_lsb_max.filter(|e| *e > LAW_ERROR_BOUND_LSB) {
            reasons.push(Reason::new(
                Code::LawError,
                format!("the integer law strays {error:.3} LSB from exact arithmetic; 0.5 LSB is its bound"),
                "this is a fault of the program, not of the design: please report it with the design file",
            ));
        }
        let (simulated, of_loop) = Simulated::judge(design, response);
        reasons.extend(of_loop);
        Self {
            good: reasons.is_empty(),
            reasons,
            table,
            law,
            overflow,
            simulated,
        }
    }

    /// The verdict as JSON text, ending in a line feed.
    ///
    /// # Panics
    ///
    /// Never: every field is a plain number, flag or string.
    #[must_use]
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("plain data");
        text.push('\n');
        text
    }

    /// What was found in a form for a compile error.
    #[must_use]
    pub fn reasons_in_one_line(&self) -> String {
        let what: Vec<&str> = self.reasons.iter().map(|r| r.what.as_str()).collect();
        what.join("; ")
    }
}
