//! Over-temperature trip: latched, with hysteresis, ended only by an explicit reset.
//!
//! | state | event | next state |
//! |---|---|---|
//! | armed | reading < trip | armed, run over |
//! | armed | reading >= trip, fewer than `confirm` in a row | armed |
//! | armed | reading >= trip, the `confirm`-th in a row | tripped |
//! | tripped | any reading | tripped |
//! | tripped | reset, last reading above `trip - hysteresis` | tripped |
//! | tripped | reset, last reading at or below it | armed |
//!
//! Detection time: `confirm` samples from the first reading at the trip, counting it. The guard
//! sees the reading before the law's clamp and before the rate guard: a fast real rise counts.

use super::GuardError;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TripConfig {
    trip: i16,
    clear: i16,
    confirm: u8,
}

impl TripConfig {
    /// Trips at `trip` (a temperature word) confirmed by `confirm` samples in a row (`1 ..= 255`);
    /// a reset works once the temperature is `hysteresis` steps below (`1 ..`).
    ///
    /// # Errors
    /// [`GuardError::Samples`] or [`GuardError::Hysteresis`].
    pub const fn new(trip: i16, hysteresis: i16, confirm: u8) -> Result<Self, GuardError> {
        if confirm == 0 {
            return Err(GuardError::Samples);
        }
        match trip.checked_sub(hysteresis) {
            Some(clear) if hysteresis >= 1 => Ok(Self {
                trip,
                clear,
                confirm,
            }),
            _ => Err(GuardError::Hysteresis),
        }
    }

    /// As [`TripConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(trip: i16, hysteresis: i16, confirm: u8) -> Self {
        match Self::new(trip, hysteresis, confirm) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Lowest temperature word that trips.
    #[must_use]
    pub const fn trip(&self) -> i16 {
        self.trip
    }

    /// Highest temperature word at which a reset works.
    #[must_use]
    pub const fn clear(&self) -> i16 {
        self.clear
    }

    /// Samples in a row that confirm.
    #[must_use]
    pub const fn confirm(&self) -> u8 {
        self.confirm
    }
}

impl Fields for TripConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::trip::TripConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            trip,
            clear,
            confirm,
        } = *self;
        walk.value(
            &labelled("trip", "", Unit::Temperature, "over-temperature trip"),
            Value::Signed(trip),
        );
        // the constructor saw to it that this fits
        walk.value(
            &field(
                "hysteresis",
                Unit::Kelvin,
                "below the trip by this before it may be reset",
            ),
            Value::Signed(trip.wrapping_sub(clear)),
        );
        walk.value(
            &field(
                "confirm",
                Unit::Samples,
                "readings in a row at the trip that latch it",
            ),
            Value::Byte(confirm),
        );
    }
}

/// The state: 2 bytes. Starts armed.
///
/// ```
/// use controller_core::guard::trip::{TripConfig, TripGuard};
/// const CONFIG: TripConfig = TripConfig::constant(60 * 128, 5 * 128, 2);
/// let mut guard = TripGuard::new();
/// assert!(!guard.tripped(&CONFIG, 61 * 128)); // not confirmed
/// assert!(guard.tripped(&CONFIG, 61 * 128));
/// assert!(guard.tripped(&CONFIG, 20 * 128)); // latched
/// assert!(!guard.reset(&CONFIG, 56 * 128)); // still too warm to reset
/// assert!(guard.reset(&CONFIG, 55 * 128));
/// assert!(!guard.tripped(&CONFIG, 55 * 128));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct TripGuard {
    run: u8,
    latched: bool,
}

impl TripGuard {
    /// An armed trip.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            run: 0,
            latched: false,
        }
    }

    /// Whether the trip is latched.
    #[must_use]
    #[inline]
    pub const fn latched(&self) -> bool {
        self.latched
    }

    /// Takes one reading; whether the trip is (now) latched. Call once a sample.
    #[inline]
    pub fn tripped(&mut self, config: &TripConfig, reading: i16) -> bool {
        if reading < config.trip {
            self.run = 0;
        } else if !self.latched {
            // below confirm before, so it cannot wrap
            self.run = self.run.wrapping_add(1);
            if self.run >= config.confirm {
                self.run = 0;
                self.latched = true;
            }
        }
        self.latched
    }

    /// Asks for the latch to be released; whether the trip is armed afterwards.
    #[inline]
    pub fn reset(&mut self, config: &TripConfig, last_reading: i16) -> bool {
        if last_reading <= config.clear {
            *self = Self::new();
        }
        !self.latched
    }
}

#[cfg(test)]
mod tests {
    use super::{TripConfig, TripGuard};
    use crate::guard::GuardError;

    /// Every state with every reading of the word, for several trips.
    #[test]
    fn every_state_with_every_reading_follows_the_truth_table() {
        let mut cases = 0_u64;
        for (trip, hysteresis, confirm) in [(7_680, 640, 2), (-5, 1, 1), (32_767, 32_767, 3)] {
            let config = TripConfig::constant(trip, hysteresis, confirm);
            for latched in [false, true] {
                for run in 0..if latched { 1 } else { confirm } {
                    for reading in i16::MIN..=i16::MAX {
                        let mut guard = TripGuard { run, latched };
                        let says = guard.tripped(&config, reading);
                        let hot = reading >= trip;
                        let trips = hot && run + 1 == confirm;
                        assert_eq!(says, latched || trips);
                        let next = if hot && !says { run + 1 } else { 0 };
                        assert_eq!(
                            guard,
                            TripGuard {
                                run: next,
                                latched: says
                            }
                        );
                        let mut guard = TripGuard { run, latched };
                        let armed = guard.reset(&config, reading);
                        let cool = i32::from(reading) <= i32::from(trip) - i32::from(hysteresis);
                        assert_eq!(armed, !latched || cool);
                        assert_eq!(guard.latched(), !armed);
                        cases += 1;
                    }
                }
            }
        }
        assert_eq!(cases, (3 + 2 + 4) * 65_536);
    }

    #[test]
    fn refusals() {
        assert_eq!(TripConfig::new(0, 1, 0), Err(GuardError::Samples));
        assert_eq!(TripConfig::new(0, 0, 1), Err(GuardError::Hysteresis));
        assert_eq!(TripConfig::new(0, -1, 1), Err(GuardError::Hysteresis));
        assert_eq!(TripConfig::new(-32_768, 1, 1), Err(GuardError::Hysteresis));
    }
}
