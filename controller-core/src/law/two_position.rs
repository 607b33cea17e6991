//! Two-position control: on or off, with hysteresis and minimum times.

use super::Action;
use crate::setpoint::InDomain;
use crate::word::{Narrow, Word, into_domain};

/// What a two-position controller needs to know. Times are in samples, in the width's unsigned word: up to 65 535 at
/// 16/32.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TwoPosition<N: Narrow> {
    half_band: N,
    minimum_on: N::Unsigned,
    minimum_off: N::Unsigned,
    action: Action,
}

/// A half band must be zero or more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NegativeBand;

impl core::fmt::Display for NegativeBand {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "the half band must be zero or more counts")
    }
}

impl core::error::Error for NegativeBand {}

/// On or off, and for how many samples already. A controller starts off, free to switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TwoPositionState<N: Narrow> {
    on: bool,
    held: N::Unsigned,
}

impl<N: Narrow> TwoPositionState<N> {
    /// Off, as after a rest long enough to switch on at once.
    #[must_use]
    pub fn start() -> Self {
        Self::holding(false, N::Unsigned::literal((1 << N::BITS) - 1))
    }

    /// Off, but so recently that the minimum time off begins now: for a compressor after a reset.
    #[must_use]
    pub fn resting() -> Self {
        Self::holding(false, N::Unsigned::literal(0))
    }

    /// On or off for `held` samples already, which keeps a minimum time across a reset. Every count is a valid state.
    ///
    /// ```
    /// use controller_core::law::{Action, two_position::{TwoPosition, TwoPositionState}};
    /// let fridge = TwoPosition::new(64_i16, 5, 5, Action::Direct).unwrap();
    /// let mut state = TwoPositionState::holding(true, 4);
    /// assert!(fridge.step(&mut state, 4 * 128, 3 * 128)); // cold enough, but on for four samples only
    /// assert!(!fridge.step(&mut state, 4 * 128, 3 * 128));
    /// assert_eq!((state.is_on(), state.held()), (false, 1));
    /// ```
    #[must_use]
    pub const fn holding(on: bool, held: N::Unsigned) -> Self {
        Self { on, held }
    }

    /// Is the output on?
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.on
    }

    /// For how many samples it is so already; the count stops at its greatest.
    #[must_use]
    pub const fn held(&self) -> N::Unsigned {
        self.held
    }
}

impl<N: Narrow> TwoPosition<N> {
    /// `half_band` in counts: cooling switches on above `set point + half_band` and off below
    /// `set point - half_band`; heating the other way round. Minimum times in samples: the output stays at least
    /// that long in each position, whatever the input.
    ///
    /// # Errors
    /// A negative half band.
    pub fn new(
        half_band: N,
        minimum_on: N::Unsigned,
        minimum_off: N::Unsigned,
        action: Action,
    ) -> Result<Self, NegativeBand> {
        if half_band.below(N::literal(0)) {
            return Err(NegativeBand);
        }
        Ok(Self {
            half_band,
            minimum_on,
            minimum_off,
            action,
        })
    }

    /// One sample: is the output to be on?
    ///
    /// ```
    /// use controller_core::law::{Action, two_position::{TwoPosition, TwoPositionState}};
    /// let mat = TwoPosition::new(64_i16, 2, 3, Action::Reverse).unwrap(); // half a kelvin at 1/128 degC
    /// let mut state = TwoPositionState::start();
    /// assert!(mat.step(&mut state, 24 * 128, 23 * 128));
    /// assert!(mat.step(&mut state, 24 * 128, 25 * 128)); // warm enough, but it has only just come on
    /// assert!(!mat.step(&mut state, 24 * 128, 25 * 128));
    /// ```
    pub fn step(
        &self,
        state: &mut TwoPositionState<N>,
        set_point: impl InDomain<N>,
        measurement: N,
    ) -> bool {
        let (set_point, measurement) = (set_point.in_domain(), into_domain(measurement));
        let difference = measurement.minus(set_point);
        let above = self.half_band.below(difference);
        let below = difference.below(N::literal(0).minus(self.half_band));
        let (wants_on, wants_off) = match self.action {
            Action::Direct => (above, below),
            Action::Reverse => (below, above),
        };
        let (wants_change, minimum) = if state.on {
            (wants_off, self.minimum_on)
        } else {
            (wants_on, self.minimum_off)
        };
        if wants_change && !state.held.below(minimum) {
            state.on = !state.on;
            state.held = N::Unsigned::literal(0);
        }
        state.held = state.held.saturating_plus(N::Unsigned::literal(1));
        state.on
    }
}

#[cfg(test)]
mod tests;
