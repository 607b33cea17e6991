//! Stuck reading: the code does not move although the actuator does.
//!
//! A steady reading alone is no fault: a coarse converter in a quiet room gives one code for
//! hours. So the guard also asks that the duty has travelled since the reading last moved.
//!
//! | reading | run of equal ones | duty's travel in it | says |
//! |---|---|---|---|
//! | differs from the one before | starts again at 0 | starts again at 0 | moving |
//! | equal | fewer than `samples` | any | moving |
//! | equal | `samples` or more | below `travel` | moving |
//! | equal | `samples` or more | `travel` or more | stuck |
//!
//! Detection time: `samples` samples, or when the duty has travelled, whichever is later. With
//! integral action and a reading that is stuck away from the set point the duty always travels,
//! until it reaches a limit. `travel = 0` makes it a plain test of `samples` equal readings.
//! Clears with the first reading that moves: the safe state's own step of duty makes a live one
//! move.
//!
//! Not seen: a reading that is stuck at the set point, or with the duty already at its limit; and
//! one that is wrong but alive.

use super::GuardError;
use crate::duty::Duty;
use crate::fields::{Fields, Unit, Value, Walk, Written, field};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct StuckConfig {
    samples: u16,
    travel: Duty,
}

impl StuckConfig {
    /// `samples` equal readings after the first (`1 ..`), in which the duty travelled by `travel`.
    ///
    /// # Errors
    /// [`GuardError::Samples`] when `samples` is 0.
    pub const fn new(samples: u16, travel: Duty) -> Result<Self, GuardError> {
        if samples == 0 {
            return Err(GuardError::Samples);
        }
        Ok(Self { samples, travel })
    }

    /// As [`StuckConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(samples: u16, travel: Duty) -> Self {
        match Self::new(samples, travel) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Equal readings after the first.
    #[must_use]
    pub const fn samples(&self) -> u16 {
        self.samples
    }

    /// The duty's travel among them.
    #[must_use]
    pub const fn travel(&self) -> Duty {
        self.travel
    }
}

impl Fields for StuckConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::stuck::StuckConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { samples, travel } = *self;
        walk.value(
            &field(
                "samples",
                Unit::Samples,
                "equal readings in a row that make a stuck one",
            ),
            Value::Word(samples),
        );
        walk.value(
            &field("travel", Unit::Duty, "travel of the duty meanwhile"),
            Value::Duty(travel),
        );
    }
}

/// The state: 8 bytes. Starts with no reading to compare with.
///
/// ```
/// use controller_core::duty::Duty;
/// use controller_core::guard::stuck::{StuckConfig, StuckGuard};
/// const CONFIG: StuckConfig = StuckConfig::constant(3, Duty::fraction(0.1));
/// let mut guard = StuckGuard::new();
/// let steady = Duty::fraction(0.5);
/// assert!(!(0..100).any(|_| guard.stuck(&CONFIG, 5_000, steady))); // a quiet night
/// assert!(guard.stuck(&CONFIG, 5_000, Duty::fraction(0.7))); // and yet it does not move
/// assert!(!guard.stuck(&CONFIG, 5_001, Duty::FULL));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct StuckGuard {
    reading: i16,
    run: u16,
    low: Duty,
    high: Duty,
}

impl StuckGuard {
    /// A guard that has seen nothing (a first reading of 0 counts as equal; harmless, for the run
    /// has only begun).
    #[must_use]
    pub const fn new() -> Self {
        Self {
            reading: 0,
            run: 0,
            low: Duty::OFF,
            high: Duty::OFF,
        }
    }

    /// Takes one reading and the duty that applied before it; whether the reading is stuck.
    #[inline]
    pub fn stuck(&mut self, config: &StuckConfig, reading: i16, duty: Duty) -> bool {
        if reading != self.reading {
            *self = Self {
                reading,
                run: 0,
                low: duty,
                high: duty,
            };
            return false;
        }
        if self.run == 0 {
            // the duty's travel starts with the run
            self.low = duty;
            self.high = duty;
        } else if duty < self.low {
            self.low = duty;
        } else if duty > self.high {
            self.high = duty;
        }
        self.run = self.run.saturating_add(1);
        let travelled = self.high.bits().wrapping_sub(self.low.bits());
        self.run >= config.samples && travelled >= config.travel.bits()
    }
}

#[cfg(test)]
mod tests {
    use super::{StuckConfig, StuckGuard};
    use crate::duty::Duty;
    use crate::guard::GuardError;
    use std::vec::Vec;

    /// Every sequence of six (reading, duty) pairs over two readings and three duties, against the
    /// truth table worked out from the whole history: long enough for the longest run of these
    /// configurations after a reading that moved.
    #[test]
    fn every_sequence_follows_the_truth_table() {
        let mut cases = 0_u64;
        for (samples, travel) in [(1, 0), (1, 100), (2, 100), (3, 200), (4, 0)] {
            let config = StuckConfig::constant(samples, Duty::constant(travel));
            for sequence in 0..6_u32.pow(6) {
                let mut word = sequence;
                let mut guard = StuckGuard::new();
                let mut history: Vec<(i16, i16)> = Vec::with_capacity(6);
                for _ in 0..6 {
                    let pair = (
                        7 + (word % 2) as i16,
                        [1_000, 1_100, 1_200][(word / 2 % 3) as usize],
                    );
                    word /= 6;
                    history.push(pair);
                    let says = guard.stuck(&config, pair.0, Duty::constant(pair.1));
                    let run: Vec<_> = history
                        .iter()
                        .rev()
                        .take_while(|(reading, _)| *reading == pair.0)
                        .map(|(_, duty)| *duty)
                        .collect();
                    // the duty beside the first of the run applied before the reading got there
                    let within = &run[..run.len() - 1];
                    let travelled =
                        within.iter().max().unwrap_or(&0) - within.iter().min().unwrap_or(&0);
                    let expected = within.len() >= usize::from(samples) && travelled >= travel;
                    assert_eq!(says, expected, "{history:?} {config:?}");
                }
                cases += 1;
            }
        }
        assert_eq!(cases, 5 * 46_656);
    }

    #[test]
    fn the_run_saturates() {
        let config = StuckConfig::constant(u16::MAX, Duty::OFF);
        let mut guard = StuckGuard::new();
        let stuck_at = (0..70_000)
            .position(|_| guard.stuck(&config, 0, Duty::OFF))
            .unwrap();
        assert_eq!(stuck_at, 65_534);
        assert!(guard.stuck(&config, 0, Duty::OFF));
        assert_eq!(StuckConfig::new(0, Duty::OFF), Err(GuardError::Samples));
    }
}
