//! Sensor fault, confirmed: one noisy code must not roar, a broken wire must not wait.
//!
//! | state | reading | next state | verdict |
//! |---|---|---|---|
//! | good | good | good, bad run over | use |
//! | good | bad, fewer than `confirm` in a row | good | hold |
//! | good | bad, the `confirm`-th in a row | faulty | fault |
//! | faulty | bad | faulty, good run over | fault |
//! | faulty | good, fewer than `recover` in a row | faulty | fault |
//! | faulty | good, the `recover`-th in a row | good | use |
//!
//! Detection time: `confirm` samples from the first bad one, counting it (`confirm = 1`: at once).
//! Recovery time: `recover` samples from the first good one, counting it.

use super::GuardError;
use crate::fields::{Fields, Unit, Value, Walk, Written, field};

/// Checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct SensorConfig {
    confirm: u8,
    recover: u8,
}

impl SensorConfig {
    /// `confirm` bad samples in a row are a fault, `recover` good ones end it; both `1 ..= 255`.
    ///
    /// # Errors
    /// [`GuardError::Samples`] when either is 0.
    pub const fn new(confirm: u8, recover: u8) -> Result<Self, GuardError> {
        if confirm == 0 || recover == 0 {
            return Err(GuardError::Samples);
        }
        Ok(Self { confirm, recover })
    }

    /// As [`SensorConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(confirm: u8, recover: u8) -> Self {
        match Self::new(confirm, recover) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Bad samples in a row that are a fault.
    #[must_use]
    pub const fn confirm(&self) -> u8 {
        self.confirm
    }

    /// Good samples in a row that end it.
    #[must_use]
    pub const fn recover(&self) -> u8 {
        self.recover
    }
}

impl Fields for SensorConfig {
    fn written(&self) -> Written {
        Written::Call("controller_core::guard::sensor::SensorConfig::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { confirm, recover } = *self;
        walk.value(
            &field(
                "confirm",
                Unit::Samples,
                "bad readings in a row that confirm a fault",
            ),
            Value::Byte(confirm),
        );
        walk.value(
            &field(
                "recover",
                Unit::Samples,
                "good readings in a row that end it",
            ),
            Value::Byte(recover),
        );
    }
}

/// What to do with this sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum SensorVerdict {
    /// The reading may be used.
    Use,
    /// The reading is bad but not confirmed bad: keep the demand.
    Hold,
    /// Safe state.
    Fault,
}

/// The state: 2 bytes. Starts good.
///
/// ```
/// use controller_core::guard::sensor::{SensorConfig, SensorGuard, SensorVerdict};
/// const CONFIG: SensorConfig = SensorConfig::constant(3, 2);
/// let mut guard = SensorGuard::new();
/// use SensorVerdict::{Fault, Hold, Use};
/// let wire = [true, false, true, false, false, false, true, true];
/// let verdicts = wire.map(|good| guard.sample(&CONFIG, good));
/// assert_eq!(verdicts, [Use, Hold, Use, Hold, Hold, Fault, Fault, Use]);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct SensorGuard {
    /// Samples in a row that speak against the present state; below what decides.
    run: u8,
    faulty: bool,
}

impl SensorGuard {
    /// A sensor believed good.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            run: 0,
            faulty: false,
        }
    }

    /// Whether the fault is confirmed and not yet recovered.
    #[must_use]
    #[inline]
    pub const fn faulty(&self) -> bool {
        self.faulty
    }

    /// Takes one sample. Call once a sample.
    #[inline]
    pub fn sample(&mut self, config: &SensorConfig, good: bool) -> SensorVerdict {
        if good != self.faulty {
            self.run = 0;
        } else {
            // below what decides before, so it cannot wrap
            self.run = self.run.wrapping_add(1);
            let decides = if self.faulty {
                config.recover
            } else {
                config.confirm
            };
            if self.run >= decides {
                self.run = 0;
                self.faulty = !self.faulty;
            }
        }
        match (self.faulty, good) {
            (true, _) => SensorVerdict::Fault,
            (false, true) => SensorVerdict::Use,
            (false, false) => SensorVerdict::Hold,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{SensorConfig, SensorGuard, SensorVerdict};
    use crate::guard::GuardError;

    /// Every state with either input, for every pair of small counts and the largest: the truth
    /// table row by row.
    #[test]
    fn every_state_follows_the_truth_table() {
        let mut cases = 0_u64;
        for confirm in [1, 2, 3, 254, 255] {
            for recover in [1, 2, 3, 254, 255] {
                let config = SensorConfig::constant(confirm, recover);
                for faulty in [false, true] {
                    let decides = if faulty { recover } else { confirm };
                    for run in 0..decides {
                        for good in [false, true] {
                            let mut guard = SensorGuard { run, faulty };
                            let verdict = guard.sample(&config, good);
                            let against = good == faulty;
                            let (next, says) = if !against {
                                let says = if faulty {
                                    SensorVerdict::Fault
                                } else {
                                    SensorVerdict::Use
                                };
                                (SensorGuard { run: 0, faulty }, says)
                            } else if run + 1 < decides {
                                let says = if faulty {
                                    SensorVerdict::Fault
                                } else {
                                    SensorVerdict::Hold
                                };
                                (
                                    SensorGuard {
                                        run: run + 1,
                                        faulty,
                                    },
                                    says,
                                )
                            } else {
                                let says = if faulty {
                                    SensorVerdict::Use
                                } else {
                                    SensorVerdict::Fault
                                };
                                (
                                    SensorGuard {
                                        run: 0,
                                        faulty: !faulty,
                                    },
                                    says,
                                )
                            };
                            assert_eq!((guard, verdict), (next, says));
                            cases += 1;
                        }
                    }
                }
            }
        }
        assert_eq!(cases, 2 * 2 * 5 * (1 + 2 + 3 + 254 + 255));
    }

    /// From every state, `confirm` bad samples are a fault and `recover` good ones end it.
    #[test]
    fn detection_and_recovery_take_the_stated_samples_from_every_state() {
        for (confirm, recover) in [(1, 1), (3, 2), (5, 9), (255, 255)] {
            let config = SensorConfig::constant(confirm, recover);
            for faulty in [false, true] {
                for run in 0..if faulty { recover } else { confirm } {
                    let mut guard = SensorGuard { run, faulty };
                    for _ in 0..confirm {
                        guard.sample(&config, false);
                    }
                    assert!(guard.faulty());
                    let mut guard = SensorGuard { run, faulty };
                    for _ in 0..recover {
                        guard.sample(&config, true);
                    }
                    assert!(!guard.faulty());
                }
            }
        }
    }

    #[test]
    fn refusals() {
        assert_eq!(SensorConfig::new(0, 1), Err(GuardError::Samples));
        assert_eq!(SensorConfig::new(1, 0), Err(GuardError::Samples));
        let config = SensorConfig::constant(3, 7);
        assert_eq!((config.confirm(), config.recover()), (3, 7));
    }
}
