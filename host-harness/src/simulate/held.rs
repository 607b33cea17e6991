//! What a pin did during a sample: stretches of equal duty, one after the other.
//!
//! A plant does not average: a push of two seconds starts a fan at a period of a minute, and its mean over that minute
//! does not. Only the two neighbouring values of a dithered timer are taken together, because their pattern lasts tens
//! of milliseconds and no rotor follows it.

/// A stretch of output ticks during which the pin stood still, or dithered between two neighbouring counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Output ticks.
    pub ticks: u32,
    /// Share of full, averaged over the stretch.
    pub duty: f64,
}

impl Held {
    /// One tick of one duty; for whoever knows no more of a sample than its mean.
    #[must_use]
    pub fn throughout(duty: f64) -> [Self; 1] {
        [Self { ticks: 1, duty }]
    }
}

/// The stretches of a pin given by its clocks of `top` at each tick.
///
/// ```
/// use host_harness::simulate::held::{Held, stretches};
/// // a switch: on for one tick, off for two
/// assert_eq!(stretches([1, 0, 0], 1), [Held { ticks: 1, duty: 1.0 }, Held { ticks: 2, duty: 0.0 }]);
/// // a timer of 320 counts: a push, then dither between 64 and 65
/// assert_eq!(stretches([192, 64, 65], 320), [Held { ticks: 1, duty: 0.6 }, Held { ticks: 2, duty: 64.5 / 320.0 }]);
/// ```
#[must_use]
pub fn stretches(clocks: impl IntoIterator<Item = u16>, top: u16) -> Vec<Held> {
    let apart = u16::from(top > 1);
    // (ticks, sum, least, most) of the stretch that is going on
    let mut now: Option<(u32, u64, u16, u16)> = None;
    let mut out = Vec::with_capacity(1);
    let held = |(ticks, sum, ..): (u32, u64, u16, u16)| Held {
        ticks,
        duty: sum as f64 / (f64::from(top) * f64::from(ticks)),
    };
    for clock in clocks {
        now = Some(match now {
            Some((ticks, sum, least, most)) if clock.max(most) - clock.min(least) <= apart => (
                ticks + 1,
                sum + u64::from(clock),
                least.min(clock),
                most.max(clock),
            ),
            other => {
                out.extend(other.map(held));
                (1, u64::from(clock), clock, clock)
            }
        });
    }
    out.extend(now.map(held));
    out
}

/// The mean duty of a sample, share of full; 0 of nothing.
#[must_use]
pub fn mean(held: &[Held]) -> f64 {
    let ticks: f64 = held.iter().map(|h| f64::from(h.ticks)).sum();
    let sum: f64 = held.iter().map(|h| f64::from(h.ticks) * h.duty).sum();
    if ticks > 0.0 { sum / ticks } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_never_spans_more_than_two_neighbouring_counts_and_nothing_is_lost() {
        let clocks: Vec<u16> = (0..1000u32).map(|n| (n * n / 7 % 5) as u16).collect();
        let held = stretches(clocks.iter().copied(), 16);
        assert_eq!(held.iter().map(|h| h.ticks).sum::<u32>(), 1000);
        let sum: f64 = clocks.iter().map(|&c| f64::from(c)).sum();
        assert!((mean(&held) - sum / 16_000.0).abs() < 1e-12);
        let mut at = 0;
        for h in &held {
            let part = &clocks[at..at + h.ticks as usize];
            at += h.ticks as usize;
            assert!(part.iter().max().unwrap() - part.iter().min().unwrap() <= 1);
        }
        assert_eq!(
            stretches([0, 1, 0, 1], 1).len(),
            4,
            "a switch is not dithered"
        );
        assert_eq!((mean(&[]), stretches([], 16)), (0.0, vec![]));
    }
}
