//! What to do when the integral gain comes out as a few counts.

use crate::design::keys::PERIOD;
use crate::integers::LawIntegers;

/// Counts that the integral gain should have: its rounding is then within 0.8 %.
pub const KI_ENOUGH: f64 = 64.0;

/// The integral time should hold this many integrations at least, so that the integrator still follows the error. Our
/// own choice, no source.
const INTEGRATIONS_MIN: f64 = 16.0;

/// What would bring an integral gain of `counts` (before rounding) to [`KI_ENOUGH`]: a longer period, as a design can ask
/// for it, where the loop bears it; otherwise that there is none. `kp` in duty LSB per count. Nothing when there are
/// enough counts, or no integral action.
#[must_use]
pub fn few_counts(counts: f64, kp: f64, period_s: f64) -> Option<String> {
    if counts <= 0.0 || counts >= KI_ENOUGH {
        return None;
    }
    let m = (KI_ENOUGH / counts).ceil();
    let integral_time = kp * 65_536.0 / counts;
    let period = m * period_s;
    let remedy = if period > PERIOD.max() {
        format!(
            "no period up to {} s gives as many",
            crate::design::keys::plain(PERIOD.max())
        )
    } else if m * INTEGRATIONS_MIN > integral_time {
        format!(
            "a period of {} s would give as many, but is too long for an integral time of {} s",
            rounded(period),
            rounded(integral_time * period_s)
        )
    } else {
        format!(
            "period_s = {} in place of {period_s} gives as many",
            rounded(period)
        )
    };
    Some(format!(
        "ki is {} counts, {:.1} % apart; at {KI_ENOUGH} or more it is within 0.8 %: {remedy}",
        rounded(counts),
        100.0 / counts
    ))
}

/// The same for a loop's integers.
#[must_use]
pub fn on_loop(loop_: &LawIntegers, period_s: f64) -> Option<String> {
    let kp = f64::from(loop_.kp) / f64::from(1_u32 << loop_.scale);
    few_counts(loop_.ki.into(), kp, period_s)
}

/// Four significant places, no trailing zeros.
fn rounded(value: f64) -> f64 {
    let places = 10_f64.powf(3.0 - value.abs().log10().floor());
    (value * places).round() / places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_the_period_that_a_design_can_ask_for() {
        assert_eq!(few_counts(0.0, 5.0, 0.25), None);
        assert_eq!(few_counts(64.0, 5.0, 0.25), None);
        assert_eq!(
            few_counts(12.0, 5.0, 0.25).unwrap(),
            "ki is 12 counts, 8.3 % apart; at 64 or more it is within 0.8 %: period_s = 1.5 in place of 0.25 gives as many"
        );
    }

    #[test]
    fn names_no_period_that_the_loop_or_the_file_does_not_bear() {
        // No proportional action worth the name: the integral time is 0.01 * 65536 / 2 = 328 samples, 32 * 16 = 512.
        let text = few_counts(2.0, 0.01, 1.0).unwrap();
        assert!(
            text.ends_with("a period of 32 s would give as many, but is too long for an integral time of 327.7 s"),
            "{text}"
        );
        // 64 / 0.2 * 1 s is beyond what period_s may be
        let text = few_counts(0.2, 100.0, 1.0).unwrap();
        assert!(
            text.ends_with("no period up to 60 s gives as many"),
            "{text}"
        );
    }
}
