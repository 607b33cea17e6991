//! The verdict: every figure of a design measured against what its maker will accept.

use serde::Serialize;

use crate::design::Accept;
use crate::simulate::metrics::Hunting;

/// Figures of the table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableFigures {
    /// Layout, in the word of the design file.
    pub encoding: String,
    /// Bytes that the lookup reads, header included, fault thresholds not.
    pub bytes: usize,
    /// Largest error over every code in range, output rounding included, kelvin.
    pub error_celsius_max: f64,
    /// Codes walked to find it.
    pub codes: u32,
}

/// Figures of the law.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LawFigures {
    /// Largest distance between the integer law's output and exact arithmetic over the simulation, LSB of duty.
    pub error_lsb_max: f64,
    /// Samples compared.
    pub samples: usize,
}

/// What the interval run over the law's own source found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OverflowFigures {
    /// True when some operation could leave its type for some input and state.
    pub possible: bool,
    /// Operations bounded.
    pub operations: u64,
}

/// Figures of the simulated loop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoopFigures {
    /// Highest temperature, degC.
    pub peak_celsius: f64,
    /// Largest excursion below the set point after it was first reached, kelvin.
    pub undershoot_celsius: f64,
    /// Longest time to settle after any change, seconds; `null` when it does not settle.
    pub settling_s: Option<f64>,
    /// Sum of all changes of duty, full strokes an hour.
    pub travel_per_hour: f64,
    /// Largest distance between the integer loop's temperature and the real-arithmetic loop's, kelvin.
    pub from_real_celsius_max: f64,
}

/// The verdict on a design.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// True when nothing was found that the design does not accept.
    pub good: bool,
    /// What was found, one sentence each; empty when good.
    pub reasons: Vec<String>,
    /// The table.
    pub table: TableFigures,
    /// The law.
    pub law: LawFigures,
    /// Overflow.
    pub overflow: OverflowFigures,
    /// The loop.
    #[serde(rename = "loop")]
    pub response: LoopFigures,
    /// Oscillation.
    pub hunting: Hunting,
}

/// Half an LSB: the bound that the law's rounding promises.
pub const LAW_ERROR_BOUND_LSB: f64 = 0.5;

impl Verdict {
    /// Judges the figures.
    #[must_use]
    pub fn judge(
        accept: &Accept,
        wanted_table_error: f64,
        table: TableFigures,
        law: LawFigures,
        overflow: OverflowFigures,
        response: LoopFigures,
        hunting: Hunting,
    ) -> Self {
        let mut reasons = Vec::new();
        if overflow.possible {
            reasons.push(
                "an operation of the law could overflow with these gains and limits".to_owned(),
            );
        }
        if table.error_celsius_max > wanted_table_error {
            reasons.push(format!(
                "the table errs by {:.4} K; table.error_celsius accepts {wanted_table_error} K",
                table.error_celsius_max
            ));
        }
        if law.error_lsb_max > LAW_ERROR_BOUND_LSB {
            reasons.push(format!(
                "the integer law strays {:.3} LSB from exact arithmetic; 0.5 LSB is its bound",
                law.error_lsb_max
            ));
        }
        reasons.extend(loop_reasons(accept, &response, &hunting));
        Self {
            good: reasons.is_empty(),
            reasons,
            table,
            law,
            overflow,
            response,
            hunting,
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

    /// The first reason in a form for a compile error.
    #[must_use]
    pub fn reasons_in_one_line(&self) -> String {
        self.reasons.join("; ")
    }
}

/// What a simulated loop does that its design does not accept, one sentence each.
#[must_use]
pub fn loop_reasons(accept: &Accept, response: &LoopFigures, hunting: &Hunting) -> Vec<String> {
    let mut reasons = Vec::new();
    if hunting.present {
        reasons.push(format!(
            "the loop hunts: period {:.0} s, amplitude {:.2} K; accept.hunting_celsius is {} K",
            hunting.period_s, hunting.amplitude_celsius, accept.hunting_celsius
        ));
    }
    if response.peak_celsius > accept.hard_limit_celsius {
        reasons.push(format!(
            "the temperature reaches {:.2} degC, above accept.hard_limit_celsius = {} degC",
            response.peak_celsius, accept.hard_limit_celsius
        ));
    } else if response.peak_celsius > accept.peak_celsius {
        reasons.push(format!(
            "the temperature peaks at {:.2} degC; accept.peak_celsius is {} degC",
            response.peak_celsius, accept.peak_celsius
        ));
    }
    match response.settling_s {
        None => reasons.push(format!(
            "the loop does not settle within {} K of its set point",
            accept.band_celsius
        )),
        Some(s) if s > accept.settling_s => {
            reasons.push(format!(
                "the loop takes {s:.0} s to settle; accept.settling_s is {} s",
                accept.settling_s
            ));
        }
        Some(_) => {}
    }
    if response.travel_per_hour > accept.travel_per_hour {
        reasons.push(format!(
            "the duty travels {:.1} full strokes an hour; accept.travel_per_hour is {}",
            response.travel_per_hour, accept.travel_per_hour
        ));
    }
    reasons
}
