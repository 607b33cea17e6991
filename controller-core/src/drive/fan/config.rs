//! What a fan needs to be told, checked once: at compile time when the parts are `const`.

use crate::duty::Duty;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};
use crate::message::speaks_its_message;

/// The push that a fan at rest is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SpinUp {
    /// Duty of the push; at least the floor.
    pub level: Duty,
    /// How long, in output ticks, `0 ..= 65 535`; 0 is no push.
    pub ticks: u16,
}

/// Whether the fan may stop, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Stop {
    /// Once started the fan always turns, at the floor or above.
    Never,
    /// Stops at a demand of `stop` or below, starts again at `start` or above; the gap between is
    /// the hysteresis that keeps it from doing both every minute.
    Below {
        /// Highest demand that stops a running fan.
        stop: Duty,
        /// Lowest demand that starts a stopped fan; above `stop`.
        start: Duty,
    },
}

impl Stop {
    #[inline]
    pub(super) const fn stops_at(self, demand: Duty) -> bool {
        match self {
            Self::Never => false,
            Self::Below { stop, .. } => demand.bits() <= stop.bits(),
        }
    }

    #[inline]
    pub(super) const fn starts_at(self, demand: Duty) -> bool {
        match self {
            Self::Never => true,
            Self::Below { start, .. } => demand.bits() >= start.bits(),
        }
    }
}

/// The most a running fan's duty may change in one sample, in duty steps of 1/32 767.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Slew {
    /// Upwards, `1 ..= 32 767`. Keep it generous: it delays cooling.
    pub rise: i16,
    /// Downwards, `1 ..= 32 767`.
    pub fall: i16,
}

impl Slew {
    /// No limit.
    pub const NONE: Self = Self {
        rise: Duty::ONE,
        fall: Duty::ONE,
    };
}

/// Duty for a wanted share of the fan's airflow: nine duties for the shares 0, 1/8 .. 8/8, joined
/// by straight lines. 18 bytes.
///
/// The law then asks for airflow, in which the plant is less bent than in duty. Knots never fall,
/// and the last is [`Duty::FULL`], so the map preserves order and reaches full output exactly.
///
/// ```
/// use controller_core::drive::fan::Airflow;
/// use controller_core::duty::Duty;
/// // a fan that moves little air below half duty
/// const CURVE: Airflow = Airflow::constant([0, 9_830, 14_000, 17_500, 20_500, 23_300, 26_200, 29_400, 32_767]);
/// assert_eq!(CURVE.duty(Duty::FULL), Duty::FULL);
/// assert_eq!(CURVE.duty(Duty::fraction(0.25)).bits(), 14_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Airflow {
    knots: [i16; Self::KNOTS],
}

impl Airflow {
    /// Number of knots: eight segments and one.
    pub const KNOTS: usize = 9;

    /// Checks and keeps the knots.
    ///
    /// # Errors
    /// [`FanError::AirflowKnots`] when a knot is negative, below the one before it, or the last is
    /// not 32 767.
    pub const fn new(knots: [i16; Self::KNOTS]) -> Result<Self, FanError> {
        let mut at = 0;
        while at < Self::KNOTS {
            let before = if at == 0 { 0 } else { knots[at - 1] };
            if knots[at] < before {
                return Err(FanError::AirflowKnots);
            }
            at += 1;
        }
        if knots[Self::KNOTS - 1] != Duty::ONE {
            return Err(FanError::AirflowKnots);
        }
        Ok(Self { knots })
    }

    /// As [`Airflow::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(knots: [i16; Self::KNOTS]) -> Self {
        match Self::new(knots) {
            Ok(curve) => curve,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// The duty that moves this share of the full airflow: on the straight line between knots to
    /// half a step of duty and half a step of share, monotone, exact at both ends.
    #[must_use]
    #[inline]
    pub const fn duty(&self, airflow: Duty) -> Duty {
        let share = airflow.bits();
        // Stretch 0 ..= 2^15 - 1 onto 0 ..= 2^15, so that full airflow meets the last knot.
        let stretched = share as u16 + (share as u16 >> 14);
        let segment = (stretched >> 12) as usize;
        if segment >= Self::KNOTS - 1 {
            return Duty::FULL;
        }
        let low = self.knots[segment];
        let height = self.knots[segment + 1].wrapping_sub(low);
        let along = (stretched & 0x0FFF) as i32;
        let climb = (height as i32 * along + (1 << 11)) >> 12;
        Duty::saturating(low.wrapping_add(climb as i16))
    }

    /// The knots, for reports and checksums.
    #[must_use]
    pub const fn knots(&self) -> &[i16; Self::KNOTS] {
        &self.knots
    }
}

/// The parts of a [`FanConfig`], by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FanParts {
    /// Stall floor: the lowest duty at which the fan keeps turning for certain, above 0.
    pub floor: Duty,
    /// The push from rest.
    pub spin_up: SpinUp,
    /// Whether and when the fan may stop.
    pub stop: Stop,
    /// Duty for a wanted airflow; `None` takes the demand as the duty.
    pub airflow: Option<Airflow>,
    /// Limit on the change of duty a sample.
    pub slew: Slew,
}

/// A fan's checked configuration; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FanConfig {
    parts: FanParts,
}

impl FanConfig {
    /// Checks and keeps the parts.
    ///
    /// # Errors
    /// The [`FanError`] that names what is wrong.
    ///
    /// ```
    /// use controller_core::drive::fan::{FanConfig, FanError, FanParts, Slew, SpinUp, Stop};
    /// use controller_core::duty::Duty;
    /// let weak_push = FanParts {
    ///     floor: Duty::fraction(0.2),
    ///     spin_up: SpinUp { level: Duty::fraction(0.1), ticks: 50 },
    ///     stop: Stop::Never,
    ///     airflow: None,
    ///     slew: Slew::NONE,
    /// };
    /// assert_eq!(FanConfig::new(weak_push), Err(FanError::PushBelowFloor));
    /// ```
    pub const fn new(parts: FanParts) -> Result<Self, FanError> {
        if parts.floor.bits() == 0 {
            return Err(FanError::NoFloor);
        }
        if parts.spin_up.level.bits() < parts.floor.bits() {
            return Err(FanError::PushBelowFloor);
        }
        if parts.slew.rise < 1 || parts.slew.fall < 1 {
            return Err(FanError::NoSlew);
        }
        if let Stop::Below { stop, start } = parts.stop
            && stop.bits() >= start.bits()
        {
            return Err(FanError::NoHysteresis);
        }
        Ok(Self { parts })
    }

    /// As [`FanConfig::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(parts: FanParts) -> Self {
        match Self::new(parts) {
            Ok(config) => config,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Lowest duty of a turning fan.
    #[must_use]
    #[inline]
    pub const fn floor(&self) -> Duty {
        self.parts.floor
    }

    /// The push from rest.
    #[must_use]
    #[inline]
    pub const fn spin_up(&self) -> SpinUp {
        self.parts.spin_up
    }

    /// Whether and when the fan may stop.
    #[must_use]
    #[inline]
    pub const fn stop(&self) -> Stop {
        self.parts.stop
    }

    /// Limit on the change of duty a sample.
    #[must_use]
    #[inline]
    pub const fn slew(&self) -> Slew {
        self.parts.slew
    }

    /// Duty for a wanted airflow, when the fan has such a curve.
    #[must_use]
    #[inline]
    pub const fn airflow(&self) -> Option<&Airflow> {
        self.parts.airflow.as_ref()
    }

    /// The duty a demand asks of a turning fan before the slew: through the airflow curve, at
    /// least the floor.
    #[must_use]
    #[inline]
    pub const fn wanted(&self, demand: Duty) -> Duty {
        let duty = match &self.parts.airflow {
            Some(curve) => curve.duty(demand),
            None => demand,
        };
        if duty.bits() < self.parts.floor.bits() {
            self.parts.floor
        } else {
            duty
        }
    }
}

impl Fields for Stop {
    fn written(&self) -> Written {
        match self {
            Self::Never => Written::Name("controller_core::drive::fan::Stop::Never"),
            Self::Below { .. } => Written::Struct("controller_core::drive::fan::Stop::Below"),
        }
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let may = u8::from(*self != Self::Never);
        walk.parameter(
            &labelled("variant", "", Unit::Choice, "whether the fan may stop"),
            Value::Byte(may),
        );
        if let Self::Below { stop, start } = *self {
            walk.value(
                &labelled(
                    "stop",
                    "at",
                    Unit::Duty,
                    "highest demand that stops a running fan",
                ),
                Value::Duty(stop),
            );
            walk.value(
                &labelled(
                    "start",
                    "start_at",
                    Unit::Duty,
                    "lowest demand that starts a stopped fan",
                ),
                Value::Duty(start),
            );
        }
    }
}

impl Fields for SpinUp {
    fn written(&self) -> Written {
        Written::Struct("controller_core::drive::fan::SpinUp")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { level, ticks } = *self;
        walk.value(
            &labelled("level", "", Unit::Duty, "duty of the push from rest"),
            Value::Duty(level),
        );
        walk.value(
            &field("ticks", Unit::Ticks, "length of the push"),
            Value::Word(ticks),
        );
    }
}

impl Fields for Slew {
    fn written(&self) -> Written {
        Written::Struct("controller_core::drive::fan::Slew")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { rise, fall } = *self;
        walk.value(
            &field("rise", Unit::DutyPerSample, "fastest rise of the duty"),
            Value::Signed(rise),
        );
        walk.value(
            &field("fall", Unit::DutyPerSample, "fastest fall of the duty"),
            Value::Signed(fall),
        );
    }
}

impl Fields for Airflow {
    fn written(&self) -> Written {
        Written::Call("controller_core::drive::fan::Airflow::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { knots } = self;
        walk.group(
            &labelled(
                "knots",
                "",
                Unit::Group,
                "duties for eighths of the full airflow",
            ),
            knots,
        );
    }
}

impl Fields for FanConfig {
    fn written(&self) -> Written {
        Written::Parts(
            "controller_core::drive::fan::FanConfig::constant",
            "controller_core::drive::fan::FanParts",
        )
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let FanParts {
            floor,
            spin_up,
            stop,
            airflow,
            slew,
        } = &self.parts;
        walk.value(
            &field("floor", Unit::Duty, "lowest duty of a turning fan"),
            Value::Duty(*floor),
        );
        walk.group(&field("spin_up", Unit::Group, "push from rest"), spin_up);
        walk.group(
            &field("slew", Unit::Group, "fastest change of the duty"),
            slew,
        );
        walk.group(
            &field("stop", Unit::Group, "whether and when the fan may stop"),
            stop,
        );
        walk.option(
            &field("airflow", Unit::Group, "duty for a wanted airflow"),
            airflow.as_ref(),
        );
    }
}

/// Why a fan's parts were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum FanError {
    /// The stall floor is 0.
    NoFloor,
    /// The push is weaker than the floor.
    PushBelowFloor,
    /// A slew limit is 0 or negative.
    NoSlew,
    /// The start threshold is not above the stop threshold.
    NoHysteresis,
    /// The airflow knots fall, are negative or do not end at full duty.
    AirflowKnots,
}

impl FanError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::NoFloor => "fan: stall floor is 0; accepted: 1 ..= 32767",
            Self::PushBelowFloor => {
                "fan: spin-up level is below the stall floor; accepted: the floor ..= 32767"
            }
            Self::NoSlew => {
                "fan: slew limit below 1 a sample; accepted: 1 ..= 32767 (32767 is no limit)"
            }
            Self::NoHysteresis => {
                "fan: start threshold is not above the stop threshold; accepted: start > stop"
            }
            Self::AirflowKnots => {
                "fan: airflow knots must not fall and must end at 32767; accepted: 9 duties, rising"
            }
        }
    }
}

speaks_its_message!(FanError);
