//! Rate of change: a reading further from the last accepted one than the plant can move.
//!
//! | reading | next state | says |
//! |---|---|---|
//! | first, or first after [`RateGuard::restart`] | accepted, allowance = `limit` | plausible |
//! | within the allowance of the last accepted one | accepted, allowance = `limit` | plausible |
//! | further away | last one kept, allowance + `limit` | not plausible |
//!
//! The allowance grows with every refusal, as the last accepted reading grows old: a real step of
//! `S` is accepted after `ceil(S / limit) - 1` refusals. Detection time: the same sample.

use super::GuardError;
use crate::fields::{Fields, Unit, Value, Walk, Written, field};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RateConfig {
    limit: i16,
}

impl RateConfig {
    /// The most the temperature can really change in one sample, in steps of its word,
    /// `1 ..= 32 767`; noise included.
    ///
    /// # Errors
    /// [`GuardError::RateLimit`] when it is below 1.
    pub const fn new(limit: i16) -> Result<Self, GuardError> {
        if limit < 1 {
            return Err(GuardError::RateLimit);
        }
        Ok(Self { limit })
    }

    /// As [`RateConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(limit: i16) -> Self {
        match Self::new(limit) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Steps a sample.
    #[must_use]
    pub const fn limit(&self) -> i16 {
        self.limit
    }
}

impl Fields for RateConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::rate::RateConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { limit } = *self;
        walk.value(
            &field(
                "limit",
                Unit::Kelvin,
                "most that a reading may move in a sample",
            ),
            Value::Signed(limit),
        );
    }
}

/// The state: 4 bytes. Starts by accepting anything.
///
/// ```
/// use controller_core::guard::rate::{RateConfig, RateGuard};
/// const CONFIG: RateConfig = RateConfig::constant(64); // half a degree a sample in 1/128
/// let mut guard = RateGuard::new();
/// assert!(guard.plausible(&CONFIG, 5_000));
/// assert!(guard.plausible(&CONFIG, 5_064));
/// assert!(!guard.plausible(&CONFIG, 9_000)); // a burst of noise
/// assert!(guard.plausible(&CONFIG, 5_070));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RateGuard {
    last: i16,
    allowance: u16,
}

impl Default for RateGuard {
    fn default() -> Self {
        Self::new()
    }
}

impl RateGuard {
    /// A guard that has seen nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            last: 0,
            allowance: u16::MAX,
        }
    }

    /// Forgets the last reading, as after a gap in time.
    #[inline]
    pub fn restart(&mut self) {
        *self = Self::new();
    }

    /// Whether this reading can follow the last accepted one. Call once a sample.
    #[inline]
    pub fn plausible(&mut self, config: &RateConfig, reading: i16) -> bool {
        let plausible = reading.abs_diff(self.last) <= self.allowance;
        if plausible {
            self.last = reading;
            self.allowance = config.limit as u16;
        } else {
            self.missed(config);
        }
        plausible
    }

    /// Counts a sample without a reading: the last accepted one grows older.
    #[inline]
    pub fn missed(&mut self, config: &RateConfig) {
        self.allowance = self.allowance.saturating_add(config.limit as u16);
    }
}

#[cfg(test)]
mod tests {
    use super::{RateConfig, RateGuard};
    use crate::guard::GuardError;

    #[test]
    fn accepts_and_refuses_at_the_limit_over_the_whole_word() {
        let mut cases = 0_u64;
        for limit in [1, 2, 64, 1_000, 32_767] {
            let config = RateConfig::constant(limit);
            for last in (i16::MIN..=i16::MAX).step_by(251).chain([i16::MAX]) {
                for reading in (i16::MIN..=i16::MAX).step_by(241).chain([
                    i16::MAX,
                    last,
                    last.saturating_add(limit),
                    last.saturating_sub(limit),
                    last.saturating_add(limit).saturating_add(1),
                    last.saturating_sub(limit).saturating_sub(1),
                ]) {
                    let mut guard = RateGuard {
                        last,
                        allowance: limit as u16,
                    };
                    let far = (i32::from(reading) - i32::from(last)).abs();
                    let expected = far <= i32::from(limit);
                    assert_eq!(guard.plausible(&config, reading), expected);
                    assert_eq!(guard.last, if expected { reading } else { last });
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 5 * 263 * (272 + 6));
    }

    #[test]
    fn a_real_step_is_accepted_after_the_stated_refusals() {
        for limit in [1_i16, 10, 64, 999] {
            let config = RateConfig::constant(limit);
            for step in [1_i32, 10, 64, 65, 1_000, 30_000, 65_535] {
                let mut guard = RateGuard::new();
                assert!(guard.plausible(&config, i16::MIN));
                let reading = (i32::from(i16::MIN) + step) as i16;
                let refusals = (0..)
                    .take_while(|_| !guard.plausible(&config, reading))
                    .count();
                let expected = (step as u32).div_ceil(limit as u32) - 1;
                assert_eq!(refusals as u32, expected, "{limit} {step}");
            }
        }
    }

    #[test]
    fn a_restart_accepts_anything_and_a_missed_sample_widens() {
        let config = RateConfig::constant(5);
        let mut guard = RateGuard::new();
        assert!(guard.plausible(&config, 0));
        guard.missed(&config);
        assert!(!guard.plausible(&config, 11));
        guard.restart();
        assert!(guard.plausible(&config, 30_000));
        assert_eq!(RateConfig::new(0), Err(GuardError::RateLimit));
        assert_eq!(config.limit(), 5);
    }
}
