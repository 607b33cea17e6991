//! Hunting: the loop swings around its set point and does not settle.
//!
//! Source: T. Hagglund, *A control-loop performance monitor*, Control Engineering Practice 3
//! (1995) 1543-1551. Between two zero crossings of the error the integrated absolute error of a
//! swing `a sin(w t)` is `2 a / w`; a half-swing above a limit is a detection, and enough
//! detections within a supervision time are hunting. Settings from there: `a` = 1 % of the range
//! (here: the amplitude worth a report), `w` the loop's ultimate frequency, 10 detections within
//! at least 5 ultimate periods (or 50 integral times).
//!
//! In place of the paper's exponential forgetting one detection is forgotten every `forget`
//! samples, `supervision / detections`:
//!
//! | event | next state | says |
//! |---|---|---|
//! | error keeps its sign, or is 0 | its magnitude is added, up to the limit | as before |
//! | error changes sign, sum above the limit | one more detection, sum = the new magnitude | hunting when `detections` are reached |
//! | error changes sign, sum not above it | sum = the new magnitude | as before |
//! | every `forget` samples | one detection forgotten | calm when none is left |
//!
//! Detection time for a steady swing of period `P` samples: `detections / (2 / P - 1 / forget)`
//! samples; a swing with `P >= 2 * forget` is never reported. A step of load or set point is one
//! or two detections, and forgotten.

use super::GuardError;
use crate::fields::{Fields, Unit, Value, Walk, Written, field};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct HuntingConfig {
    limit: u32,
    forget: u16,
    detections: u8,
}

impl HuntingConfig {
    /// Largest limit on the integrated absolute error.
    pub const LIMIT_MAX: u32 = 1 << 31;

    /// A half-swing whose integrated absolute error exceeds `limit` (temperature steps times
    /// samples, `1 ..= 2^31`) is a detection; `detections` (`1 ..= 255`) are hunting, one being
    /// forgotten every `forget` samples (`1 ..`).
    ///
    /// # Errors
    /// [`GuardError::IntegratedError`], [`GuardError::Samples`] or [`GuardError::Detections`].
    pub const fn new(limit: u32, forget: u16, detections: u8) -> Result<Self, GuardError> {
        if limit == 0 || limit > Self::LIMIT_MAX {
            return Err(GuardError::IntegratedError);
        }
        if forget == 0 {
            return Err(GuardError::Samples);
        }
        if detections == 0 {
            return Err(GuardError::Detections);
        }
        Ok(Self {
            limit,
            forget,
            detections,
        })
    }

    /// As [`HuntingConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(limit: u32, forget: u16, detections: u8) -> Self {
        match Self::new(limit, forget, detections) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// The limit of a half-swing of `amplitude` steps with a period of `period_samples`:
    /// `2 a / w = a * period / pi`, rounded, at least 1. For `const` items.
    ///
    /// ```
    /// use controller_core::guard::hunting::HuntingConfig;
    /// // half a degree at 1/128, a period of 90 samples
    /// const LIMIT: u32 = HuntingConfig::limit_of_swing(64.0, 90.0);
    /// assert_eq!(LIMIT, 1_833);
    /// ```
    #[must_use]
    pub const fn limit_of_swing(amplitude: f64, period_samples: f64) -> u32 {
        let limit = amplitude * period_samples / core::f64::consts::PI + 0.5;
        // `as` saturates, and makes 0 of what is not a number
        let limit = limit as u32;
        if limit == 0 { 1 } else { limit }
    }

    /// Temperature steps times samples.
    #[must_use]
    pub const fn limit(&self) -> u32 {
        self.limit
    }

    /// Samples after which one detection is forgotten.
    #[must_use]
    pub const fn forget(&self) -> u16 {
        self.forget
    }

    /// Detections that are hunting.
    #[must_use]
    pub const fn detections(&self) -> u8 {
        self.detections
    }
}

/// What to do about hunting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum OnHunting {
    /// Raise the alarm; the gains stay.
    #[default]
    Report,
    /// Raise the alarm and go on with every gain halved, without a bump, until
    /// [`crate::station::Station::reset`].
    HalveGains,
}

impl Fields for HuntingConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::hunting::HuntingConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            limit,
            forget,
            detections,
        } = *self;
        walk.value(
            &field(
                "limit",
                Unit::KelvinSamples,
                "integrated error of a half-swing that counts",
            ),
            Value::Long(limit),
        );
        walk.value(
            &field("forget", Unit::Samples, "time after which one is forgotten"),
            Value::Word(forget),
        );
        walk.value(
            &field("detections", Unit::Number, "half-swings that are hunting"),
            Value::Byte(detections),
        );
    }
}

/// The state: 8 bytes. Starts calm.
///
/// ```
/// use controller_core::guard::hunting::{HuntingConfig, HuntingGuard};
/// const CONFIG: HuntingConfig = HuntingConfig::constant(1_000, 200, 4);
/// let mut guard = HuntingGuard::new();
/// let swing = |sample: u32| if sample / 45 % 2 == 0 { 64 } else { -64 };
/// let first = (0..1_000).position(|sample| guard.hunting(&CONFIG, swing(sample)));
/// assert_eq!(first, Some(45 * 4)); // the end of the fourth half-swing
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct HuntingGuard {
    sum: u32,
    age: u16,
    /// Detections remembered, at most `detections`.
    count: u8,
    flags: u8,
}

impl HuntingGuard {
    const NEGATIVE: u8 = 1;
    const HUNTING: u8 = 2;

    /// A calm loop.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            sum: 0,
            age: 0,
            count: 0,
            flags: 0,
        }
    }

    /// Whether the loop was hunting at the last sample.
    #[must_use]
    #[inline]
    pub const fn active(&self) -> bool {
        self.flags & Self::HUNTING != 0
    }

    /// Takes one sample's error (its sign convention does not matter); whether the loop hunts.
    #[inline]
    pub fn hunting(&mut self, config: &HuntingConfig, error: i16) -> bool {
        self.age = self.age.wrapping_add(1);
        if self.age >= config.forget {
            self.age = 0;
            self.count = self.count.saturating_sub(1);
            if self.count == 0 {
                self.flags &= !Self::HUNTING;
            }
        }
        let negative = self.flags & Self::NEGATIVE != 0;
        if error != 0 && (error < 0) != negative {
            self.flags ^= Self::NEGATIVE;
            if self.sum > config.limit && self.count < config.detections {
                self.count = self.count.wrapping_add(1);
                if self.count == config.detections {
                    self.flags |= Self::HUNTING;
                }
            }
            self.sum = 0;
        }
        // No further than past the limit, so it cannot wrap: at most 2^31 + 32 768.
        if self.sum <= config.limit {
            self.sum = self.sum.wrapping_add(error.unsigned_abs() as u32);
        }
        self.active()
    }

    /// Starts again, as after the gains or the set point were changed.
    #[inline]
    pub fn restart(&mut self) {
        *self = Self::new();
    }
}

#[cfg(test)]
mod tests;
