//! The figures that `verdict.json` holds.

use serde::Serialize;

use super::Simulated;
use crate::simulate::metrics::Hunting;
use crate::simulate::observe::Stretch;
use crate::simulate::{LawSeen, Response};

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
    /// Largest distance between the integer law's output and exact arithmetic over the samples compared, LSB of duty;
    /// `null` when none was.
    pub error_lsb_max: Option<f64>,
    /// Samples compared.
    pub samples: u64,
    /// When the comparison ended before its scenario, seconds: at the first unusable reading or alarm.
    pub ended_s: Option<f64>,
}

impl LawFigures {
    /// Of what was seen in the simulation.
    #[must_use]
    pub fn of(seen: &LawSeen) -> Self {
        Self {
            error_lsb_max: (seen.samples > 0).then_some(seen.error_lsb_max),
            samples: seen.samples,
            ended_s: seen.ended_s,
        }
    }

    /// In words.
    #[must_use]
    pub fn text(&self) -> String {
        let until = self
            .ended_s
            .map_or(String::new(), |s| format!(", until an alarm at {s:.0} s"));
        match self.error_lsb_max {
            Some(error) => format!(
                "at most {error:.3} LSB from exact arithmetic over {} samples{until}",
                self.samples
            ),
            None => "not compared with exact arithmetic: no sample was usable".to_owned(),
        }
    }
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
    /// Largest depth below the set point after it was first reached, kelvin; where a fan at its floor cools more than it
    /// should, nothing could be done about it, and it does not count.
    pub undershoot_celsius: f64,
    /// Longest time to settle after any change, seconds; `null` when it does not settle.
    pub settling_s: Option<f64>,
    /// Shortest time that it then stayed settled, seconds; 0 when it does not settle.
    pub stayed_s: f64,
    /// True when it came to rest, after some change, at the actuator's least and beyond its band.
    pub resting_at_least: bool,
    /// Mean distance from the set point over the last quarter of a stretch, of the one in which it is largest, kelvin;
    /// hotter is positive.
    pub offset_celsius: f64,
    /// Largest distance between the integer loop's temperature and the real-arithmetic loop's, kelvin.
    pub from_real_celsius_max: f64,
}

/// Figures of the actuator.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TravelFigures {
    /// What the duty moves more slowly than the sensor's time constant, full strokes an hour.
    pub motion_per_hour: f64,
    /// What is left of its travel: noise and steps of the converter, full strokes an hour.
    pub jitter_per_hour: f64,
    /// Largest change of the duty from one sample to the next, once the set point was reached, percent of full.
    pub largest_step_percent: f64,
    /// Starts of a fan after its first, or of the switch, an hour.
    pub starts_per_hour: f64,
}

/// How much could be judged.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct JudgedFigures {
    /// Stretches between two changes of the scenario.
    pub stretches: usize,
    /// Of those, how many were too short by themselves, so that the run went on with everything as it was.
    pub gone_on: usize,
    /// The longest time that it went on, seconds.
    pub longest_on_s: f64,
    /// Stretches that were not judged because the same change from the same conditions was.
    pub repeated: usize,
    /// Stretches that could not be judged although the run went on.
    pub not_judged: usize,
    /// How long a temperature must have stayed within its band to count as settled, seconds.
    pub stay_s: f64,
}

/// Figures of a response.
pub(super) fn simulated(response: &Response) -> Simulated {
    let seen = &response.observed;
    let stretches = &seen.stretches;
    let judged: Vec<&Stretch> = stretches.iter().filter(|s| s.judged).collect();
    let all: Option<Vec<f64>> = judged.iter().map(|s| s.settling_s).collect();
    let settling_s = all
        .filter(|all| !all.is_empty())
        .map(|all| all.into_iter().fold(0.0, f64::max));
    let stayed_s = judged
        .iter()
        .map(|s| s.stayed_s)
        .fold(f64::INFINITY, f64::min);
    let hunting = judged
        .iter()
        .map(|s| s.found.hunting)
        .max_by(|a, b| {
            let of = |h: &Hunting| (h.present, h.amplitude_celsius);
            of(a)
                .partial_cmp(&of(b))
                .unwrap_or(std::cmp::Ordering::Equal)
        })
        .unwrap_or_default();
    Simulated {
        response: LoopFigures {
            peak_celsius: seen.peak.0,
            undershoot_celsius: seen.below.0,
            settling_s,
            stayed_s: if stayed_s.is_finite() { stayed_s } else { 0.0 },
            resting_at_least: judged.iter().any(|s| s.settled.is_some_and(|s| s.resting)),
            offset_celsius: judged
                .iter()
                .map(|s| s.offset)
                .max_by(|a, b| a.abs().total_cmp(&b.abs()))
                .unwrap_or(0.0),
            from_real_celsius_max: response.from_real_celsius_max,
        },
        travel: TravelFigures {
            motion_per_hour: seen.motion_per_hour,
            jitter_per_hour: seen.jitter_per_hour,
            largest_step_percent: 100.0 * seen.largest_step,
            starts_per_hour: seen.starts_per_hour,
        },
        hunting,
        alarms: seen.alarms.clone(),
        judged: JudgedFigures {
            stretches: stretches.len(),
            gone_on: stretches.iter().filter(|s| s.on_s > 0.0).count(),
            longest_on_s: stretches.iter().map(|s| s.on_s).fold(0.0, f64::max),
            repeated: stretches.iter().filter(|s| s.repeats).count(),
            not_judged: stretches.iter().filter(|s| !s.judged && !s.repeats).count(),
            stay_s: seen.horizon.stay_s,
        },
        // of the design, not of the run
        margins: Vec::new(),
    }
}
