//! `[accept]`: what the maker will accept. The verdict is measured against it.

use super::document::Section;
use super::keys as q;

/// Kelvin above the set point that `peak_celsius` is when the file does not say.
pub const DEFAULT_PEAK_ABOVE_SET_POINT: f64 = 3.0;
/// Kelvin above the set point that `hard_limit_celsius` is when the file does not say.
pub const DEFAULT_LIMIT_ABOVE_SET_POINT: f64 = 10.0;

/// Largest step of the duty, percent of full, when the file does not say: of a fan at a third of its speed it is 6 dB
/// (`50 log10`, see [`crate::plant::sound`]), which everybody hears. A heater is not heard.
pub const DEFAULT_STEP_PERCENT: [f64; 2] = [10.0, 100.0];

/// What the maker will accept.
#[derive(Clone, Debug, PartialEq)]
pub struct Accept {
    /// Highest temperature, degC.
    pub peak_celsius: f64,
    /// Distance from the set point that counts as settled, kelvin.
    pub band_celsius: f64,
    /// Longest time to settle after a change, seconds.
    pub settling_s: f64,
    /// Largest amplitude of a sustained oscillation, kelvin.
    pub hunting_celsius: f64,
    /// Largest depth below the set point once it was reached, kelvin.
    pub undershoot_celsius: f64,
    /// Largest travel of the duty, noise not counted, full strokes an hour.
    pub travel_per_hour: f64,
    /// Largest travel of the duty that is noise, full strokes an hour.
    pub jitter_per_hour: f64,
    /// Largest change of the duty from one sample to the next, percent of full.
    pub duty_step_percent: f64,
    /// Starts of a fan after its first, or of the switch, an hour; `None` for no limit.
    pub starts_per_hour: Option<f64>,
    /// Largest maximum sensitivity `Ms` of the loop at any operating point.
    pub sensitivity_max: f64,
    /// Temperature that must never be exceeded, degC.
    pub hard_limit_celsius: f64,
}

pub(super) fn read(section: &Section<'_>, set_point: f64, cooling: bool) -> Accept {
    let accept = Accept {
        peak_celsius: section
            .optional(&q::ACCEPT_PEAK)
            .unwrap_or(set_point + DEFAULT_PEAK_ABOVE_SET_POINT),
        band_celsius: section.number(&q::ACCEPT_BAND),
        settling_s: section.number(&q::ACCEPT_SETTLING),
        hunting_celsius: section.number(&q::ACCEPT_HUNTING),
        undershoot_celsius: section.number(&q::ACCEPT_UNDERSHOOT),
        travel_per_hour: section.number(&q::ACCEPT_TRAVEL),
        jitter_per_hour: section.number(&q::ACCEPT_JITTER),
        duty_step_percent: section
            .optional(&q::ACCEPT_STEP)
            .unwrap_or(DEFAULT_STEP_PERCENT[usize::from(!cooling)]),
        // a fan that has a floor never stops; a switch's strokes are its job
        starts_per_hour: section
            .optional(&q::ACCEPT_STARTS)
            .or(cooling.then_some(0.0)),
        sensitivity_max: section.number(&q::ACCEPT_SENSITIVITY),
        hard_limit_celsius: section
            .optional(&q::HARD_LIMIT)
            .unwrap_or(set_point + DEFAULT_LIMIT_ABOVE_SET_POINT),
    };
    if accept.peak_celsius <= set_point {
        section.problem(
            &q::ACCEPT_PEAK,
            "is not above the set point",
            &format!("a temperature above {set_point} degC"),
        );
    }
    if accept.hard_limit_celsius < accept.peak_celsius {
        section.problem(
            &q::HARD_LIMIT,
            "is below the acceptable peak",
            &format!("at least peak_celsius = {} degC", accept.peak_celsius),
        );
    }
    section.finish();
    accept
}
