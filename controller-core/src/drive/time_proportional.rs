//! Time-proportional output: a duty as on-time within a window, for relays and mains switches.
//!
//! A window of `window` ticks is on for its first part and off for the rest. What a window could
//! not give, because ticks are whole or because the on or off time would be shorter than the
//! switch can bear, is carried into the next one, so the average is never lost. With `carried` in
//! units of `tick / ONE`, at the start of each window:
//!
//! ```text
//! owed = duty * window + carried
//! on   = floor(owed / ONE)          ticks, down to an even number with Unit::WholeCycle
//! on   = 0                          when on < min_on
//! on   = window                     when window - on < min_off
//! carried' = owed - on * ONE
//! ```
//!
//! `carried` stays within `-min_off * ONE ..= max(min_on, 2) * ONE`: over any number of windows
//! the on-time is within `max(min_on, min_off, 2)` ticks of the ideal. (If `on` is 0, then
//! `carried' < min_on * ONE`. If `on` is a full window, `carried'` is at most `carried`, because
//! a duty is at most 1, and above `-min_off * ONE`. Otherwise it is within `0 .. 2 * ONE`.)
//!
//! **Mains half-cycles.** With a zero-crossing switch, call [`TimeProportional::tick`] once a
//! half-cycle (100 or 120 a second): each tick then is one whole half-cycle and nothing is cut.
//! [`Unit::WholeCycle`] keeps every on-time an even number of half-cycles, so that the load draws
//! no direct current.
//!
//! **Safe state: off**, at once, past the minimum on-time; what was owed is forgotten, and the
//! minimum off-time is still kept before the next on.

use crate::duty::{Duty, divide_by_ones};
use crate::fields::{self, Fields, Value, Walk, Written, field, labelled};
use crate::message::speaks_its_message;

/// The smallest piece of on-time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Unit {
    /// One tick.
    #[default]
    Tick,
    /// Two ticks, when a tick is a mains half-cycle: no direct current. Window and minimum times
    /// are even.
    WholeCycle,
}

/// The parts of a [`TimeProportionalConfig`], by name; all times in output ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct TimeProportionalParts {
    /// Length of the window, `2 ..= 16 383`.
    pub window: u16,
    /// Shortest on-time, `0 ..`; with `min_off` no more than the window.
    pub min_on: u16,
    /// Shortest off-time.
    pub min_off: u16,
    /// The smallest piece of on-time.
    pub unit: Unit,
}

/// A checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TimeProportionalConfig {
    parts: TimeProportionalParts,
}

impl TimeProportionalConfig {
    /// Longest window: keeps `duty * window + carried` inside 31 bits.
    pub const WINDOW_MAX: u16 = (1 << 14) - 1;

    /// Checks and keeps the parts.
    ///
    /// # Errors
    /// The [`TimeProportionalError`] that names what is wrong.
    ///
    /// ```
    /// use controller_core::drive::time_proportional::*;
    /// let parts = TimeProportionalParts { window: 100, min_on: 60, min_off: 60, unit: Unit::Tick };
    /// assert_eq!(TimeProportionalConfig::new(parts), Err(TimeProportionalError::MinimumTimes));
    /// ```
    pub const fn new(parts: TimeProportionalParts) -> Result<Self, TimeProportionalError> {
        if parts.window < 2 || parts.window > Self::WINDOW_MAX {
            return Err(TimeProportionalError::Window);
        }
        if parts.min_on > parts.window || parts.min_off > parts.window - parts.min_on {
            return Err(TimeProportionalError::MinimumTimes);
        }
        if matches!(parts.unit, Unit::WholeCycle)
            && (parts.window | parts.min_on | parts.min_off) & 1 != 0
        {
            return Err(TimeProportionalError::OddTimes);
        }
        Ok(Self { parts })
    }

    /// As [`TimeProportionalConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(parts: TimeProportionalParts) -> Self {
        match Self::new(parts) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// The parts.
    #[must_use]
    #[inline]
    pub const fn parts(&self) -> &TimeProportionalParts {
        &self.parts
    }
}

impl Fields for TimeProportionalConfig {
    fn written(&self) -> Written {
        Written::Parts(
            "controller_core::drive::time_proportional::TimeProportionalConfig::constant",
            "controller_core::drive::time_proportional::TimeProportionalParts",
        )
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            parts:
                TimeProportionalParts {
                    window,
                    min_on,
                    min_off,
                    unit,
                },
        } = *self;
        walk.value(
            &labelled(
                "window",
                "window_ticks",
                fields::Unit::Ticks,
                "length of the window",
            ),
            Value::Word(window),
        );
        walk.value(
            &labelled(
                "min_on",
                "minimum_on_ticks",
                fields::Unit::Ticks,
                "shortest on-time",
            ),
            Value::Word(min_on),
        );
        walk.value(
            &labelled(
                "min_off",
                "minimum_off_ticks",
                fields::Unit::Ticks,
                "shortest off-time",
            ),
            Value::Word(min_off),
        );
        let (path, code) = match unit {
            Unit::Tick => ("controller_core::drive::time_proportional::Unit::Tick", 0),
            Unit::WholeCycle => (
                "controller_core::drive::time_proportional::Unit::WholeCycle",
                1,
            ),
        };
        walk.value(
            &field("unit", fields::Unit::Choice, "smallest piece of on-time"),
            Value::Choice(path, code),
        );
    }
}

/// The state of one switch: 10 bytes. Starts off, with a window about to begin.
///
/// ```
/// use controller_core::drive::time_proportional::*;
/// use controller_core::duty::Duty;
///
/// // a kettle's solid-state relay on 50 Hz: a window of one second in half-cycles
/// const SWITCH: TimeProportionalConfig = TimeProportionalConfig::constant(TimeProportionalParts {
///     window: 100,
///     min_on: 0,
///     min_off: 0,
///     unit: Unit::WholeCycle,
/// });
/// let mut switch = TimeProportional::new();
/// switch.demand(Duty::fraction(0.33));
/// let on = (0..300).filter(|_| switch.tick(&SWITCH)).count();
/// assert_eq!(on, 32 + 34 + 32); // 98.99 half-cycles are owed; less than a cycle is carried
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct TimeProportional {
    carried: i32,
    duty: Duty,
    on_left: u16,
    left: u16,
}

impl TimeProportional {
    /// A switch that is off and owes nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            carried: 0,
            duty: Duty::OFF,
            on_left: 0,
            left: 0,
        }
    }

    /// Takes a demand; it counts from the next window on, so a change waits at most one window.
    #[inline]
    pub fn demand(&mut self, duty: Duty) {
        self.duty = duty;
    }

    /// The duty last taken.
    #[must_use]
    #[inline]
    pub const fn duty(&self) -> Duty {
        self.duty
    }

    /// Whether the switch is on for this tick. Call once a tick of the output.
    #[inline]
    pub fn tick(&mut self, config: &TimeProportionalConfig) -> bool {
        if self.left == 0 {
            self.begin_window(config.parts());
        }
        self.left = self.left.wrapping_sub(1);
        let on = self.on_left != 0;
        if on {
            self.on_left = self.on_left.wrapping_sub(1);
        }
        on
    }

    /// Off at once and owing nothing; the window in progress, or the minimum off-time if longer,
    /// passes before anything is on again.
    #[inline]
    pub fn safe(&mut self, config: &TimeProportionalConfig) {
        self.duty = Duty::OFF;
        self.carried = 0;
        self.on_left = 0;
        if self.left < config.parts.min_off {
            self.left = config.parts.min_off;
        }
    }

    fn begin_window(&mut self, parts: &TimeProportionalParts) {
        // At most 32 767 * 16 383 + 16 383 * 32 767 < 2^31 (module head).
        let owed = (self.duty.bits() as i32 * parts.window as i32).wrapping_add(self.carried);
        let mut on = if owed < 0 {
            0
        } else {
            divide_by_ones::<15>(owed as u32).0
        };
        if matches!(parts.unit, Unit::WholeCycle) {
            on &= !1;
        }
        if on < parts.min_on {
            on = 0;
        } else if on > parts.window.wrapping_sub(parts.min_off) {
            on = parts.window;
        }
        // on * ONE, the product with 2^15 - 1 written as a shift less itself
        let given = ((on as i32) << 15).wrapping_sub(on as i32);
        self.carried = owed.wrapping_sub(given);
        self.on_left = on;
        self.left = parts.window;
    }
}

/// Why a time-proportional output's parts were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum TimeProportionalError {
    /// The window is too short or too long.
    Window,
    /// The minimum times do not fit into the window.
    MinimumTimes,
    /// A time is odd although the unit is a whole mains cycle.
    OddTimes,
}

impl TimeProportionalError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::Window => "time-proportional: window out of range; accepted: 2 ..= 16383 ticks",
            Self::MinimumTimes => {
                "time-proportional: minimum on and off times exceed the window; accepted: min_on + min_off <= window"
            }
            Self::OddTimes => {
                "time-proportional: odd number of half-cycles; accepted with whole cycles: even window, min_on, min_off"
            }
        }
    }
}

speaks_its_message!(TimeProportionalError);

#[cfg(test)]
mod tests;
