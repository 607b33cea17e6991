//! What a station is told: gains, set point, drive, guards. Checked once, lives in flash.

use crate::drive::output::Drive;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};
use crate::guard::GuardsConfig;
use crate::law::{Action, Settings};
use crate::message::speaks_its_message;
use crate::setpoint::SetPoint;
use core::marker::PhantomData;
use fixed::FixedI16;
use fixed::types::extra::U7;

/// The parts of a [`StationConfig`], by name. `SP`: fraction bits of `kp` and `kd`. `F`: fraction
/// bits of a temperature word ([`U7`]: 1/128 degC).
#[derive(Clone, Copy)]
pub struct StationParts<const SP: u32, D: Drive, F = U7> {
    /// Gains, output limits, action.
    pub settings: Settings<i16, SP>,
    /// The wanted temperature at start.
    pub set_point: FixedI16<F>,
    /// The drive's own configuration.
    pub drive: D::Config,
    /// The guards.
    pub guards: GuardsConfig,
}

/// A station's checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationConfig<const SP: u32, D: Drive, F = U7> {
    pub(super) settings: Settings<i16, SP>,
    pub(super) set_point: SetPoint<i16>,
    pub(super) drive: D::Config,
    pub(super) guards: GuardsConfig,
    pub(super) expected: Option<u16>,
    format: PhantomData<F>,
}

impl<const SP: u32, D: Drive, F> StationConfig<SP, D, F> {
    /// Checks and keeps the parts.
    ///
    /// # Errors
    /// The [`StationError`] that names what is wrong.
    pub const fn new(parts: StationParts<SP, D, F>) -> Result<Self, StationError>
    where
        F: Copy,
    {
        let full = D::SAFE.bits() != 0;
        let cools = matches!(parts.settings.action, Action::Direct);
        if full != cools {
            return Err(StationError::DriveAgainstAction);
        }
        let Ok(set_point) = SetPoint::<i16>::new(parts.set_point.to_bits()) else {
            return Err(StationError::SetPointOutsideDomain);
        };
        if parts.set_point.to_bits() >= parts.guards.trip.trip() {
            return Err(StationError::SetPointAtTrip);
        }
        Ok(Self {
            settings: parts.settings,
            set_point,
            drive: parts.drive,
            guards: parts.guards,
            expected: None,
            format: PhantomData,
        })
    }

    /// As [`StationConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(parts: StationParts<SP, D, F>) -> Self
    where
        F: Copy,
    {
        match Self::new(parts) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// The same with the background self-test: `expected` is what [`Fields::checksum`] gives for
    /// this configuration on the host. Without it, the self-test is off.
    #[must_use]
    pub const fn with_checksum(mut self, expected: u16) -> Self {
        self.expected = Some(expected);
        self
    }

    /// The same without the background self-test. Where a type of no size stands for the configuration
    /// ([`Configuration`](super::Configuration)), its numbers are part of the code and there is no
    /// separate memory to test: the test would read a copy that nothing else uses.
    #[must_use]
    pub const fn without_checksum(mut self) -> Self {
        self.expected = None;
        self
    }

    /// Gains, output limits, action.
    #[must_use]
    pub const fn settings(&self) -> &Settings<i16, SP> {
        &self.settings
    }

    /// The drive's own configuration.
    #[must_use]
    pub const fn drive(&self) -> &D::Config {
        &self.drive
    }

    /// The guards.
    #[must_use]
    pub const fn guards(&self) -> &GuardsConfig {
        &self.guards
    }

    /// The checksum that the self-test expects, when it is on.
    #[must_use]
    pub const fn expected_checksum(&self) -> Option<u16> {
        self.expected
    }
}

impl<const SP: u32, D: Drive, F> Fields for StationConfig<SP, D, F> {
    // the law's side, the guards, the drive
    const PARTS: u8 = 1 + GuardsConfig::PARTS + <D::Config as Fields>::PARTS;

    fn written(&self) -> Written {
        Written::Parts(
            "controller_core::station::StationConfig::constant",
            "controller_core::station::StationParts",
        )
    }

    #[inline]
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W) {
        const GUARDS: u8 = 1 + GuardsConfig::PARTS;
        let Self {
            settings,
            set_point,
            drive,
            guards,
            // what the sum is compared with
            expected: _,
            format: _,
        } = self;
        match part {
            0 => {
                walk.group(
                    &labelled("settings", "", Unit::Group, "gains and limits"),
                    settings,
                );
                let word = Value::Signed(set_point.counts());
                walk.value(
                    &field(
                        "set_point",
                        Unit::Temperature,
                        "wanted temperature at start",
                    ),
                    word,
                );
            }
            1..GUARDS => {
                let guard = part.wrapping_sub(1);
                walk.part(
                    &labelled("guards", "", Unit::Group, "guards"),
                    guards,
                    guard,
                );
            }
            _ => {
                let drive_part = part.wrapping_sub(GUARDS);
                walk.part(
                    &labelled("drive", "", Unit::Group, "drive"),
                    drive,
                    drive_part,
                );
            }
        }
    }
}

/// Why a station's parts, or a new set point, were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum StationError {
    /// A cooling loop on a heater's drive, or the other way about.
    DriveAgainstAction,
    /// The set point is outside the law's domain.
    SetPointOutsideDomain,
    /// The set point is at or above the trip.
    SetPointAtTrip,
}

impl StationError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::DriveAgainstAction => {
                "station: action and drive disagree; accepted: direct action with fans, reverse action with a heater"
            }
            Self::SetPointOutsideDomain => {
                "station: set point outside the law's domain; accepted: words -16384 ..= 16383"
            }
            Self::SetPointAtTrip => {
                "station: set point is at or above the trip; accepted: a set point below the trip"
            }
        }
    }
}

speaks_its_message!(StationError);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::output::SwitchedHeaterDrive;
    use crate::drive::time_proportional::{TimeProportionalConfig, TimeProportionalParts, Unit};
    use crate::duty::Duty;
    use crate::gain::Mantissas;
    use crate::guard::hunting::OnHunting;
    use crate::guard::sensor::SensorConfig;
    use crate::guard::stale::StaleConfig;
    use crate::guard::trip::TripConfig;
    use crate::message::tests::speaks;

    #[test]
    fn the_checksum_expected_is_the_one_that_was_given() {
        let gains = Mantissas {
            kp: 2_000,
            ki: 600,
            kd: 0,
        };
        let config = StationConfig::<8, SwitchedHeaterDrive>::constant(StationParts {
            settings: Settings::<i16, 8>::constant(gains, 0, Duty::ONE, Action::Reverse),
            set_point: FixedI16::<U7>::lit("40"),
            drive: TimeProportionalConfig::constant(TimeProportionalParts {
                window: 4,
                min_on: 0,
                min_off: 0,
                unit: Unit::Tick,
            }),
            guards: GuardsConfig {
                sensor: SensorConfig::constant(3, 2),
                stale: StaleConfig::constant(6),
                trip: TripConfig::constant(60 * 128, 5 * 128, 2),
                rate: None,
                stuck: None,
                effect: None,
                hunting: None,
                on_hunting: OnHunting::Report,
            },
        });
        assert_eq!(config.expected_checksum(), None);
        let tested = config.with_checksum(0xABCD);
        assert_eq!(tested.expected_checksum(), Some(0xABCD));
        assert_eq!(tested.without_checksum(), config);
    }

    #[test]
    fn refusals_say_what_would_be_accepted() {
        for (error, accepted) in [
            (
                StationError::DriveAgainstAction,
                "direct action with fans, reverse action with a heater",
            ),
            (
                StationError::SetPointOutsideDomain,
                "words -16384 ..= 16383",
            ),
            (StationError::SetPointAtTrip, "a set point below the trip"),
        ] {
            speaks(&error, error.message(), "station: ", accepted);
        }
    }
}
