//! First-order error feedback of a duty onto a timer of any period, never below the stall floor.
//!
//! A timer of `top` clocks a period can only give `top + 1` levels. A fine duty is given by
//! switching between two neighbouring compare values from one output tick to the next, carrying
//! what each value left over (a first-order sigma-delta modulator). With
//! `duty * top = clocks * ONE + rest`:
//!
//! ```text
//! sum  = carried + rest
//! code = clocks + 1, carried' = sum - ONE     when sum >= ONE
//! code = clocks,     carried' = sum           otherwise
//! ```
//!
//! The sum of the codes of any `n` ticks is `floor((carried + n * duty * top) / ONE)`: over a full
//! cycle (at most `ONE` ticks) the average is *exactly* `duty * top / ONE`, and at every moment the
//! sum is within one clock of the ideal. The multiply happens when the duty changes; a tick is one
//! add, one compare.
//!
//! **The floor.** A modulator that straddles a fan's stall floor stalls the fan. So a running
//! fan's code is never below `floor_code = ceil(floor * top / ONE)`: while the wanted `clocks` lie
//! below it, the code is `floor_code` and nothing is carried. The lowest duty whose average is
//! exact is therefore [`DitherConfig::exact_from`]; on a coarse timer it is up to one clock above
//! the fan's own floor, and the law's lower limit belongs there. Duty 0 is off: code 0.

use crate::duty::{Duty, divide_by_ones};
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};
use crate::message::speaks_its_message;

/// Which level of the pin drives the actuator.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Polarity {
    /// High drives: the compare value is the code.
    #[default]
    ActiveHigh,
    /// Low drives: the compare value is `top - code`. The published four-wire fan wants the line
    /// *not* inverted, but a transistor in between inverts it.
    ActiveLow,
}

/// Checked configuration of a modulator; lives in flash. `K` is the width of the duty word less
/// its sign: 15. (`K = 7` exists so that every input of the same source can be tried.)
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct DitherConfig<const K: u32 = 15> {
    top: u16,
    floor_code: u16,
    polarity: Polarity,
}

impl DitherConfig {
    /// Smallest timer period accepted, in clocks.
    pub const TOP_MIN: u16 = 16;

    /// For a timer of `top` clocks a period, `16 ..= 65 535`, and an actuator that must not be
    /// driven below `floor` while it is on ([`Duty::OFF`] for a heater: no floor).
    ///
    /// # Errors
    /// [`DitherError::Top`] when `top` is below 16.
    ///
    /// ```
    /// use controller_core::drive::dither::{DitherConfig, DitherError, Polarity};
    /// use controller_core::duty::Duty;
    /// let config = DitherConfig::new(255, Duty::fraction(0.2), Polarity::ActiveHigh).unwrap();
    /// assert_eq!(config.floor_code(), 51);
    /// let coarse = DitherConfig::new(15, Duty::OFF, Polarity::ActiveHigh);
    /// assert_eq!(coarse, Err(DitherError::Top));
    /// ```
    pub const fn new(top: u16, floor: Duty, polarity: Polarity) -> Result<Self, DitherError> {
        if top < Self::TOP_MIN {
            return Err(DitherError::Top);
        }
        Ok(Self::of_any_width(top, floor.bits() as u16, polarity))
    }

    /// As [`DitherConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(top: u16, floor: Duty, polarity: Polarity) -> Self {
        match Self::new(top, floor, polarity) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// The same with the floor already in clocks, `0 ..= top`: how a checked configuration is written down.
    ///
    /// # Panics
    /// When `top` is below 16 or the floor above it; in a `const` item that is a compile error.
    ///
    /// ```
    /// use controller_core::drive::dither::{DitherConfig, Polarity};
    /// use controller_core::duty::Duty;
    /// let config = DitherConfig::constant(255, Duty::fraction(0.2), Polarity::ActiveHigh);
    /// assert_eq!(DitherConfig::of_clocks(255, 51, Polarity::ActiveHigh), config);
    /// ```
    #[must_use]
    pub const fn of_clocks(top: u16, floor_code: u16, polarity: Polarity) -> Self {
        if top < Self::TOP_MIN {
            panic!("{}", DitherError::Top.message());
        }
        if floor_code > top {
            panic!("dither: floor above the period; accepted: 0 ..= top clocks");
        }
        Self {
            top,
            floor_code,
            polarity,
        }
    }

    /// The lowest duty whose average is exact: the smallest with `floor(duty * top / ONE)` at
    /// least the floor code. For `const` items and reports: it divides.
    ///
    /// ```
    /// use controller_core::drive::dither::{DitherConfig, Polarity};
    /// use controller_core::duty::Duty;
    /// // 16 clocks only: 20 % is 3.2 clocks, so the fan gets 4 and exactness begins at 25 %
    /// const COARSE: DitherConfig = DitherConfig::constant(16, Duty::fraction(0.2), Polarity::ActiveHigh);
    /// const FROM: Duty = COARSE.exact_from();
    /// assert_eq!(FROM.bits(), 8_192);
    /// ```
    #[must_use]
    pub const fn exact_from(&self) -> Duty {
        let one = Duty::ONE as u32;
        let bits = (self.floor_code as u32 * one).div_ceil(self.top as u32);
        // floor_code <= top, so bits <= ONE
        Duty::constant(bits as i16)
    }
}

impl Fields for DitherConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::drive::dither::DitherConfig::of_clocks")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            top,
            floor_code,
            polarity,
        } = *self;
        walk.value(
            &labelled(
                "top",
                "period_counts",
                Unit::Clocks,
                "clocks in a period of the PWM timer",
            ),
            Value::Word(top),
        );
        walk.value(
            &labelled(
                "floor_code",
                "floor_counts",
                Unit::Clocks,
                "lowest code of a running actuator",
            ),
            Value::Word(floor_code),
        );
        let (path, code) = match polarity {
            Polarity::ActiveHigh => ("controller_core::drive::dither::Polarity::ActiveHigh", 0),
            Polarity::ActiveLow => ("controller_core::drive::dither::Polarity::ActiveLow", 1),
        };
        walk.value(
            &field("polarity", Unit::Choice, "level of the pin that drives"),
            Value::Choice(path, code),
        );
    }
}

impl<const K: u32> DitherConfig<K> {
    const fn of_any_width(top: u16, floor: u16, polarity: Polarity) -> Self {
        let (clocks, rest) = divide_by_ones::<K>(floor as u32 * top as u32);
        Self {
            top,
            floor_code: if rest == 0 { clocks } else { clocks + 1 },
            polarity,
        }
    }

    /// Clocks in a timer period.
    #[must_use]
    #[inline]
    pub const fn top(&self) -> u16 {
        self.top
    }

    /// The lowest code of a running actuator, in clocks.
    #[must_use]
    #[inline]
    pub const fn floor_code(&self) -> u16 {
        self.floor_code
    }

    /// The pin's polarity.
    #[must_use]
    #[inline]
    pub const fn polarity(&self) -> Polarity {
        self.polarity
    }

    /// The compare value for a code, by the pin's polarity.
    #[must_use]
    #[inline]
    pub const fn compare(&self, code: u16) -> u16 {
        match self.polarity {
            Polarity::ActiveHigh => code,
            Polarity::ActiveLow => self.top.wrapping_sub(code),
        }
    }
}

/// The modulator's state: 6 bytes. Starts with no duty.
///
/// ```
/// use controller_core::drive::dither::{Dither, DitherConfig, Polarity};
/// use controller_core::duty::Duty;
///
/// const TIMER: DitherConfig = DitherConfig::constant(255, Duty::fraction(0.2), Polarity::ActiveHigh);
/// let mut dither = Dither::new();
/// dither.set(&TIMER, Duty::fraction(0.3)); // just under 76.5 clocks
/// let codes: Vec<u16> = (0..4).map(|_| dither.tick(&TIMER)).collect();
/// assert_eq!(codes, [76, 76, 77, 76]);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Dither<const K: u32 = 15> {
    clocks: u16,
    rest: u16,
    carried: u16,
}

impl Dither {
    /// A modulator at duty 0 with nothing carried.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            clocks: 0,
            rest: 0,
            carried: 0,
        }
    }

    /// Takes a new duty; what was carried stays carried, so a sequence of duties keeps its
    /// average too. Call when the duty changes (any time: it is idempotent).
    #[inline]
    pub fn set(&mut self, config: &DitherConfig, duty: Duty) {
        self.set_word(config, duty.bits() as u16);
    }
}

impl<const K: u32> Dither<K> {
    const ONE: u16 = (1 << K) - 1;

    #[inline]
    fn set_word(&mut self, config: &DitherConfig<K>, duty: u16) {
        let (clocks, rest) = divide_by_ones::<K>(duty as u32 * config.top as u32);
        if duty != 0 && clocks < config.floor_code {
            // The floor holds; an average below it is not to be caught up later.
            self.clocks = config.floor_code;
            self.rest = 0;
        } else {
            self.clocks = clocks;
            self.rest = rest;
        }
    }

    /// The compare value of this output tick, within `0 ..= top`; for a duty that is not 0, the
    /// code behind it is at least the floor code. Call once a tick.
    #[inline]
    pub fn tick(&mut self, config: &DitherConfig<K>) -> u16 {
        // carried and rest are both below ONE, so the sum fits.
        let sum = self.carried.wrapping_add(self.rest);
        let code = if sum >= Self::ONE {
            self.carried = sum.wrapping_sub(Self::ONE);
            self.clocks.wrapping_add(1)
        } else {
            self.carried = sum;
            self.clocks
        };
        config.compare(code)
    }
}

/// Why a modulator's configuration was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum DitherError {
    /// The timer period is below 16 clocks.
    Top,
}

impl DitherError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::Top => "dither: timer period below 16 clocks; accepted: 16 ..= 65535",
        }
    }
}

speaks_its_message!(DitherError);

#[cfg(test)]
mod tests;
