//! What to do when the integral gain comes out as a few counts.

use crate::integers::LawIntegers;

/// Counts that the integral gain should have: its rounding is then within 0.8 %.
pub const KI_ENOUGH: f64 = 64.0;

/// The integral time should hold this many integrations at least, so that the integrator still follows the error. Our
/// own choice, no source.
const INTEGRATIONS_MIN: f64 = 16.0;

/// What would bring an integral gain of `counts` (before rounding) to [`KI_ENOUGH`]: integration at every m-th sample,
/// a longer period, or the wider word, with their numbers; the first that fits the loop is named first. `kp` in duty
/// LSB per count. Nothing when there are enough counts, or no integral action.
#[must_use]
pub fn few_counts(counts: f64, kp: f64, period_s: f64) -> Option<String> {
    if counts <= 0.0 || counts >= KI_ENOUGH {
        return None;
    }
    let m = (KI_ENOUGH / counts).ceil();
    let wide = format!(
        "use 32/64, where it would be {:.0} counts",
        counts * 65_536.0
    );
    let period = format!(
        "sample every {} s instead of {period_s} s",
        rounded(m * period_s)
    );
    let spread = format!(
        "integrate at one sample in {m:.0} (law::every in your own firmware) with ki {:.0}",
        m * counts
    );
    let integral_time = kp * 65_536.0 / counts;
    let remedies = if m <= 255.0 && m * INTEGRATIONS_MIN <= integral_time {
        format!("{spread}, {period}, or {wide}")
    } else {
        format!(
            "{wide} (integrating at one sample in {m:.0} would be too slow for this integral time)"
        )
    };
    Some(format!(
        "ki is {} counts, {:.1} % apart; at {KI_ENOUGH} or more it is within 0.8 %: {remedies}",
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
    fn names_m_the_period_and_the_wider_word() {
        assert_eq!(few_counts(0.0, 5.0, 0.25), None);
        assert_eq!(few_counts(64.0, 5.0, 0.25), None);
        assert_eq!(
            few_counts(12.0, 5.0, 0.25).unwrap(),
            "ki is 12 counts, 8.3 % apart; at 64 or more it is within 0.8 %: integrate at one sample in 6 (law::every in \
             your own firmware) with ki 72, sample every 1.5 s instead of 0.25 s, or use 32/64, where it would be 786432 counts"
        );
    }

    #[test]
    fn prefers_the_wider_word_when_spreading_is_too_slow() {
        // No proportional action worth the name: the integral time is 0.01 * 65536 / 2 = 328 samples, 32 * 16 = 512.
        let text = few_counts(2.0, 0.01, 1.0).unwrap();
        assert!(
            text.contains("within 0.8 %: use 32/64, where it would be 131072 counts"),
            "{text}"
        );
        // More samples than the counter holds.
        assert!(
            few_counts(0.2, 100.0, 1.0)
                .unwrap()
                .contains("use 32/64, where it would be 13107 counts")
        );
    }
}
