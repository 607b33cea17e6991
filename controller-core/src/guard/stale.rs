//! Stale sample: the reading came late, or does not come at all.
//!
//! | event | next state | says |
//! |---|---|---|
//! | sample, `elapsed <= limit` | waiting 0 ticks | in time |
//! | sample, `elapsed > limit` | waiting 0 ticks | stale, for this sample |
//! | output tick, fewer than `limit` since the sample | one more | in time |
//! | output tick, `limit` or more since the sample | stays | stale, until the next sample |
//!
//! Detection time of a missing sample: the output tick after `limit` of them, so the safe state
//! needs only the output's own clock to live. Of a late one: the sample itself.

use super::GuardError;
use crate::fields::{Fields, Unit, Value, Walk, Written, labelled};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct StaleConfig {
    limit: u16,
}

impl StaleConfig {
    /// Most output ticks from one sample to the next, `1 ..= 65 535`: the period and the
    /// tolerance.
    ///
    /// # Errors
    /// [`GuardError::StaleLimit`] when it is 0.
    pub const fn new(limit: u16) -> Result<Self, GuardError> {
        if limit == 0 {
            return Err(GuardError::StaleLimit);
        }
        Ok(Self { limit })
    }

    /// As [`StaleConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(limit: u16) -> Self {
        match Self::new(limit) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Output ticks.
    #[must_use]
    pub const fn limit(&self) -> u16 {
        self.limit
    }
}

impl Fields for StaleConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::stale::StaleConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { limit } = *self;
        walk.value(
            &labelled(
                "limit",
                "ticks",
                Unit::Ticks,
                "latest time of the next sample",
            ),
            Value::Word(limit),
        );
    }
}

/// The state: 2 bytes. Starts with a sample just taken.
///
/// ```
/// use controller_core::guard::stale::{StaleConfig, StaleGuard};
/// const CONFIG: StaleConfig = StaleConfig::constant(3);
/// let mut guard = StaleGuard::new();
/// assert!([false, false, false, true].map(|stale| guard.tick(&CONFIG) == stale).iter().all(|&as_said| as_said));
/// assert!(!guard.sample(&CONFIG, 3)); // in time by its own count
/// assert!(guard.sample(&CONFIG, 4)); // late
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct StaleGuard {
    waited: u16,
}

impl StaleGuard {
    /// A sample was just taken.
    #[must_use]
    pub const fn new() -> Self {
        Self { waited: 0 }
    }

    /// Takes a sample that came `elapsed` ticks after the one before; whether it is stale.
    #[inline]
    pub fn sample(&mut self, config: &StaleConfig, elapsed: u16) -> bool {
        self.waited = 0;
        elapsed > config.limit
    }

    /// Counts an output tick; whether the sample is overdue.
    #[inline]
    pub fn tick(&mut self, config: &StaleConfig) -> bool {
        let overdue = self.waited >= config.limit;
        if !overdue {
            self.waited = self.waited.wrapping_add(1);
        }
        overdue
    }

    /// Output ticks since the last sample, up to the limit.
    #[must_use]
    #[inline]
    pub const fn waited(&self) -> u16 {
        self.waited
    }
}

#[cfg(test)]
mod tests {
    use super::{StaleConfig, StaleGuard};
    use crate::guard::GuardError;

    /// Every state of the counter with both events, for limits at the ends and between.
    #[test]
    fn every_state_follows_the_truth_table() {
        let mut cases = 0_u64;
        for limit in [1, 2, 100, 65_534, 65_535] {
            let config = StaleConfig::constant(limit);
            for waited in 0..=limit {
                let mut guard = StaleGuard { waited };
                assert_eq!(guard.tick(&config), waited == limit);
                assert_eq!(
                    guard.waited,
                    (u32::from(waited) + 1).min(limit.into()) as u16
                );
                assert_eq!(guard.waited(), guard.waited);
                for elapsed in [0, 1, limit - 1, limit, limit.saturating_add(1), u16::MAX] {
                    let mut guard = StaleGuard { waited };
                    assert_eq!(guard.sample(&config, elapsed), elapsed > limit);
                    assert_eq!(guard.waited(), 0);
                }
                cases += 1;
            }
        }
        assert_eq!(cases, 2 + 3 + 101 + 65_535 + 65_536);
        assert_eq!(StaleConfig::new(0), Err(GuardError::StaleLimit));
    }
}
