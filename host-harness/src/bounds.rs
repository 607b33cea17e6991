//! How much work a design may ask for: what would not end within half a minute is refused at once, with the key that
//! makes it so.
//!
//! Measured on one core of an ordinary machine, a sample of both loops takes 1 to 2.5 microseconds.

use crate::design::Control;
use crate::design::keys::plain;
use crate::failure::Failure;

/// Most samples of a scenario: a week at a tenth of a second.
pub const SAMPLES_MAX: f64 = 6_048_000.0;

/// Shortest period at which the fault campaign is run, seconds: its cases last as long whatever the period is.
pub const CAMPAIGN_PERIOD_S: f64 = 0.1;

/// Refuses a scenario of too many samples.
///
/// # Errors
///
/// The two keys that make them, how many there would be, and what would be accepted.
pub fn scenario(control: &Control) -> Result<(), Failure> {
    let (period, duration) = (control.period_s, control.scenario.duration_s);
    let samples = (duration / period).floor();
    if samples <= SAMPLES_MAX {
        return Ok(());
    }
    // rounded the way that is accepted
    let shortest = (duration / SAMPLES_MAX * 1e4).ceil() / 1e4;
    let longest = (SAMPLES_MAX * period).floor();
    Err(Failure::Refused(format!(
        "`scenario.duration_s` = {} at `loop.period_s` = {} makes {samples} samples to simulate, {:.1} times as many as \
         end within half a minute ({SAMPLES_MAX}); accepted: duration_s of at most {longest}, or period_s of at least \
         {shortest}",
        plain(duration),
        plain(period),
        samples / SAMPLES_MAX
    )))
}

/// Refuses a fault campaign of too many samples.
///
/// # Errors
///
/// The key that makes them, and what would be accepted.
pub fn campaign(control: &Control) -> Result<(), Failure> {
    if control.period_s >= CAMPAIGN_PERIOD_S {
        return scenario(control);
    }
    Err(Failure::Refused(format!(
        "`loop.period_s` = {} makes the fault campaign {:.1} times longer than half a minute; accepted: a period of at \
         least {CAMPAIGN_PERIOD_S} s with --faults",
        plain(control.period_s),
        CAMPAIGN_PERIOD_S / control.period_s
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design;

    #[test]
    fn too_many_samples_are_refused_with_what_would_be_accepted() {
        let with = |period: &str, duration: &str| {
            let text = include_str!("../designs/studio-rack.toml")
                .replace("period_s = 0.5", &format!("period_s = {period}"))
                .replace("burst_samples = 16", "burst_samples = 1")
                .replace("duration_s = 14400", &format!("duration_s = {duration}"))
                .replace("kp_percent_per_kelvin = 4", "kp_percent_per_kelvin = 4\n#");
            let design = design::parse("rack.toml", &text).unwrap_or_else(|e| panic!("{e}"));
            design.control
        };
        assert!(scenario(&with("0.1", "604800")).is_ok());
        let refused = scenario(&with("0.05", "604800")).expect_err("12 million samples");
        assert_eq!(
            refused.to_string(),
            "error: `scenario.duration_s` = 604800 at `loop.period_s` = 0.05 makes 12096000 samples to simulate, 2.0 times \
             as many as end within half a minute (6048000); accepted: duration_s of at most 302400, or period_s of at \
             least 0.1"
        );
        assert!(scenario(&with("0.05", "302400")).is_ok());
        assert!(campaign(&with("0.1", "14400")).is_ok());
        assert!(campaign(&with("0.05", "14400")).is_err());
    }
}
