//! Actuator without effect: it is driven hard, the error is still there, and the plant does not
//! answer. A fan behind a blocked filter, a heater whose element is open, a probe that fell out.
//!
//! The extreme is the hottest reading (cooling) or the coldest (heating) since counting began;
//! the answer is the way back from it, towards the set point.
//!
//! | driven at `level` or above and error beyond `margin` | answer | next state | alarm |
//! |---|---|---|---|
//! | no | any | count 0, extreme = reading | as before |
//! | yes | `response` or more | count 0, extreme = reading | off |
//! | yes | less, count below `samples` | one more | as before |
//! | yes | less, count at `samples` | stays | on |
//!
//! Detection time: `samples` samples of hard drive without an answer. The alarm ends when the
//! plant answers while driven, or by [`EffectGuard::reset`]. In a cooling loop the safe state *is*
//! hard drive, so a fan that was freed ends it by itself; a heater in its safe state is off and
//! cannot answer, so there the alarm is latched until the reset.

use super::GuardError;
use crate::duty::Duty;
use crate::fields::{Fields, Unit, Value, Walk, Written, field};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct EffectConfig {
    level: Duty,
    samples: u16,
    response: i16,
    margin: i16,
}

impl EffectConfig {
    /// Driven means a duty of `level` or more; `samples` (`1 ..`) such samples with an error
    /// beyond `margin` (`0 ..`) and an answer below `response` (`1 ..`) raise the alarm. Both are
    /// in temperature steps; a plant answers within a few of its time constants.
    ///
    /// # Errors
    /// [`GuardError::Samples`], [`GuardError::Response`] or [`GuardError::Margin`].
    pub const fn new(
        level: Duty,
        samples: u16,
        response: i16,
        margin: i16,
    ) -> Result<Self, GuardError> {
        if samples == 0 {
            return Err(GuardError::Samples);
        }
        if response < 1 {
            return Err(GuardError::Response);
        }
        if margin < 0 {
            return Err(GuardError::Margin);
        }
        Ok(Self {
            level,
            samples,
            response,
            margin,
        })
    }

    /// As [`EffectConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(level: Duty, samples: u16, response: i16, margin: i16) -> Self {
        match Self::new(level, samples, response, margin) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Lowest duty that is hard drive.
    #[must_use]
    pub const fn level(&self) -> Duty {
        self.level
    }

    /// Samples without an answer.
    #[must_use]
    pub const fn samples(&self) -> u16 {
        self.samples
    }

    /// The answer expected, in temperature steps.
    #[must_use]
    pub const fn response(&self) -> i16 {
        self.response
    }

    /// The error below which nothing is expected, in temperature steps.
    #[must_use]
    pub const fn margin(&self) -> i16 {
        self.margin
    }
}

impl Fields for EffectConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::effect::EffectConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            level,
            samples,
            response,
            margin,
        } = *self;
        walk.value(
            &field("level", Unit::Duty, "duty that is hard drive"),
            Value::Duty(level),
        );
        walk.value(
            &field(
                "samples",
                Unit::Samples,
                "hard drive without an answer that raises the alarm",
            ),
            Value::Word(samples),
        );
        walk.value(
            &field("response", Unit::Kelvin, "answer of the plant"),
            Value::Signed(response),
        );
        walk.value(
            &field("margin", Unit::Kelvin, "error below which none is expected"),
            Value::Signed(margin),
        );
    }
}

/// The state: 6 bytes. Starts without alarm.
///
/// `excess` below is the temperature's distance on the wrong side of the set point: measurement
/// less set point for cooling, set point less measurement for heating. The guard thus needs no
/// other notion of the loop's direction.
///
/// ```
/// use controller_core::duty::Duty;
/// use controller_core::guard::effect::{EffectConfig, EffectGuard};
/// const CONFIG: EffectConfig = EffectConfig::constant(Duty::fraction(0.9), 60, 32, 128);
/// let mut guard = EffectGuard::new();
/// // blocked: full duty, two degrees too hot, and it stays so
/// let alarm = (0..100).position(|_| guard.without_effect(&CONFIG, 256, Duty::FULL));
/// assert_eq!(alarm, Some(60));
/// assert!(!guard.without_effect(&CONFIG, 256 - 32, Duty::FULL)); // unblocked: it falls
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct EffectGuard {
    extreme: i16,
    count: u16,
    alarm: bool,
}

impl EffectGuard {
    /// A plant believed to answer.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            extreme: i16::MIN,
            count: 0,
            alarm: false,
        }
    }

    /// Whether the alarm is on.
    #[must_use]
    #[inline]
    pub const fn active(&self) -> bool {
        self.alarm
    }

    /// Takes one sample's excess and the duty that applied; whether the plant does not answer.
    #[inline]
    pub fn without_effect(&mut self, config: &EffectConfig, excess: i16, duty: Duty) -> bool {
        if duty < config.level || excess <= config.margin {
            self.count = 0;
            self.extreme = excess;
            return self.alarm;
        }
        if excess > self.extreme {
            self.extreme = excess;
        }
        // Both are words and extreme >= excess, so the unsigned difference is exact.
        if self.extreme.abs_diff(excess) >= config.response as u16 {
            self.count = 0;
            self.extreme = excess;
            self.alarm = false;
        } else if self.count < config.samples {
            self.count = self.count.wrapping_add(1);
        } else {
            self.alarm = true;
        }
        self.alarm
    }

    /// Ends the alarm and starts counting again.
    #[inline]
    pub fn reset(&mut self) {
        *self = Self::new();
    }
}

#[cfg(test)]
mod tests;
