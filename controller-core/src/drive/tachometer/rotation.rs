//! Whether a fan turns when it should: stall, retries with a push, alarm, recovery.
//!
//! One window of pulses after the other goes in; a window counts only when the fan was driven and
//! past its spin-up throughout, and the wiring lets its tachometer tell the truth.
//!
//! | state | window | next state | event |
//! |---|---|---|---|
//! | any | not counted | same, nothing changes | none |
//! | turning | pulses >= least | turning; `confirm` good ones in a row forget the retries | none |
//! | turning | pulses < least, fewer than `confirm` in a row | turning | none |
//! | turning | the `confirm`-th in a row, retries left | turning, one retry used | push |
//! | turning | the `confirm`-th in a row, none left | stalled | alarm |
//! | stalled | pulses < least | stalled | none |
//! | stalled | pulses >= least, `confirm` in a row | turning, all retries back | recovered |
//!
//! Detection time: `confirm` counted windows to the first push, `(retries + 1) * confirm` to the
//! alarm (besides the time of the pushes). A tachometer wire that breaks looks the same as a fan
//! that stops; both are answered by the alarm and full duty on what remains.

use crate::fields::{Fields, Unit, Value, Walk, Written, field};
use crate::message::speaks_its_message;

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RotationConfig {
    least_pulses: u16,
    confirm: u8,
    retries: u8,
}

impl RotationConfig {
    /// `least_pulses` a window (`1 ..`) is turning; `confirm` windows (`1 ..`) in a row decide;
    /// `retries` pushes (`0 ..`) come before the alarm.
    ///
    /// # Errors
    /// [`RotationError`] names the number that is outside its range.
    pub const fn new(least_pulses: u16, confirm: u8, retries: u8) -> Result<Self, RotationError> {
        if least_pulses == 0 {
            return Err(RotationError::LeastPulses);
        }
        if confirm == 0 {
            return Err(RotationError::Confirm);
        }
        Ok(Self {
            least_pulses,
            confirm,
            retries,
        })
    }

    /// As [`RotationConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(least_pulses: u16, confirm: u8, retries: u8) -> Self {
        match Self::new(least_pulses, confirm, retries) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Fewest pulses a window of a turning fan.
    #[must_use]
    pub const fn least_pulses(&self) -> u16 {
        self.least_pulses
    }

    /// Windows in a row that decide.
    #[must_use]
    pub const fn confirm(&self) -> u8 {
        self.confirm
    }

    /// Pushes before the alarm.
    #[must_use]
    pub const fn retries(&self) -> u8 {
        self.retries
    }
}

impl Fields for RotationConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::drive::tachometer::RotationConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            least_pulses,
            confirm,
            retries,
        } = *self;
        walk.value(
            &field(
                "least_pulses",
                Unit::Pulses,
                "fewest pulses a window of a turning fan",
            ),
            Value::Word(least_pulses),
        );
        walk.value(
            &field("confirm", Unit::Samples, "windows in a row that decide"),
            Value::Byte(confirm),
        );
        walk.value(
            &field("retries", Unit::Number, "pushes before the alarm"),
            Value::Byte(retries),
        );
    }
}

/// What a window of pulses led to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum RotationEvent {
    /// Nothing to do.
    None,
    /// Push the fan again ([`crate::drive::fan::Fan::push`]).
    Push,
    /// The fan does not turn: alarm, and full duty on everything that remains.
    Alarm,
    /// A stalled fan turns again.
    Recovered,
}

/// The state: 4 bytes. Starts turning, with all retries left.
///
/// ```
/// use controller_core::drive::tachometer::{Rotation, RotationConfig, RotationEvent};
/// const CONFIG: RotationConfig = RotationConfig::constant(10, 2, 1);
/// let mut fan = Rotation::new();
/// let events: Vec<_> = (0..4).map(|_| fan.window(&CONFIG, 0, true)).collect();
/// use RotationEvent::{Alarm, None, Push};
/// assert_eq!(events, [None, Push, None, Alarm]);
/// assert!(fan.stalled());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rotation {
    /// Windows in a row that agree with `turned`; at most `confirm`.
    run: u8,
    /// Whether the last window that counted was a turning fan's.
    turned: bool,
    /// Pushes used; at most `retries`.
    used: u8,
    stalled: bool,
}

impl Default for Rotation {
    fn default() -> Self {
        Self::new()
    }
}

impl Rotation {
    /// A fan believed to turn.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            run: 0,
            turned: true,
            used: 0,
            stalled: false,
        }
    }

    /// Whether the alarm is on.
    #[must_use]
    #[inline]
    pub const fn stalled(&self) -> bool {
        self.stalled
    }

    /// Takes one window's pulses; `counts` says whether the fan was driven, past its spin-up, and
    /// its tachometer valid, for the whole window.
    #[inline]
    pub fn window(&mut self, config: &RotationConfig, pulses: u16, counts: bool) -> RotationEvent {
        if !counts {
            return RotationEvent::None;
        }
        let turns = pulses >= config.least_pulses;
        if turns != self.turned {
            self.turned = turns;
            self.run = 0;
        }
        if self.run < config.confirm {
            self.run = self.run.wrapping_add(1);
        }
        if self.run < config.confirm {
            return RotationEvent::None;
        }
        if turns {
            self.used = 0;
            let recovered = self.stalled;
            self.stalled = false;
            return if recovered {
                RotationEvent::Recovered
            } else {
                RotationEvent::None
            };
        }
        self.run = 0;
        if self.stalled {
            RotationEvent::None
        } else if self.used < config.retries {
            self.used = self.used.wrapping_add(1);
            RotationEvent::Push
        } else {
            self.stalled = true;
            RotationEvent::Alarm
        }
    }
}

/// Why a rotation watch's numbers were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum RotationError {
    /// No pulses would count as turning.
    LeastPulses,
    /// No window would decide.
    Confirm,
}

impl RotationError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::LeastPulses => {
                "rotation: least pulses is 0, so a standing fan would pass; accepted: 1 ..= 65535"
            }
            Self::Confirm => "rotation: confirm is 0; accepted: 1 ..= 255 windows",
        }
    }
}

speaks_its_message!(RotationError);
