//! Plausibility: two measured points against the design's curve.
//!
//! A wrong curve costs degrees, a bad table hundredths. Two points are enough to tell a wrong curve, a
//! swapped divider and a probe that is not where the reference is; they are not enough to fit a curve
//! to, and this does not.

use crate::design::Sensing;
use sensor_math::curve::{Beta, Curve};
use sensor_math::divider::Side;
use std::fmt;
use std::str::FromStr;

/// What was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// Voltage at the converter's input.
    Volts(f64),
    /// Resistance of the sensor.
    Ohm(f64),
}

/// A measurement at a temperature that something else showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Temperature by the reference, degC.
    pub celsius: f64,
    /// What was measured.
    pub measured: Measured,
}

impl FromStr for Point {
    type Err = String;

    /// `CELSIUS:VALUE` with the unit at the end: `36:0.923V`, `25:10000ohm`, `25:10kohm`.
    fn from_str(text: &str) -> Result<Self, String> {
        let accepted = "accepted: CELSIUS:VALUE with V, ohm or kohm, as in 36:0.923V or 25:10kohm";
        let wrong = || format!("`{text}` is no measured point; {accepted}");
        let (celsius, value) = text.split_once(':').ok_or_else(wrong)?;
        let celsius: f64 = celsius.trim().parse().map_err(|_| wrong())?;
        let value = value.trim();
        let number = |unit: &str| value.strip_suffix(unit).and_then(|v| v.trim().parse().ok());
        let measured = if let Some(kilo) = number("kohm") {
            let kilo: f64 = kilo;
            Measured::Ohm(1000.0 * kilo)
        } else if let Some(ohm) = number("ohm") {
            Measured::Ohm(ohm)
        } else if let Some(volts) = number("V") {
            Measured::Volts(volts)
        } else {
            return Err(wrong());
        };
        let (Measured::Volts(amount) | Measured::Ohm(amount)) = measured;
        if !celsius.is_finite() || celsius <= -273.15 || !amount.is_finite() || amount <= 0.0 {
            return Err(wrong());
        }
        Ok(Self { celsius, measured })
    }
}

/// B-values of real thermistors lie between these, kelvin (common practice, no source).
pub const REAL_BETA_KELVIN: (f64, f64) = (2500.0, 5500.0);

/// What two points say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finding {
    /// Both agree with the design.
    Agrees,
    /// Both agree once the sensor is taken to be on the other side of the divider.
    OtherSide,
    /// The points belong to a real part, but not to the design's.
    WrongCurve,
    /// No real part behaves like this: the probe is not at the reference's temperature.
    ProbeElsewhere,
    /// Resistance falls as the temperature rises, where the design's part does the opposite.
    OtherKind,
    /// Resistance rises as the temperature does, where the design's part does the opposite, and no other side explains
    /// it.
    WrongWay,
}

/// The finding with what led to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Plausibility {
    /// What the points say.
    pub finding: Finding,
    /// Sensor resistance of each point, ohm.
    pub ohm: [f64; 2],
    /// Temperature that the design reads at each point, degC.
    pub read_celsius: [f64; 2],
    /// Temperature by the reference, degC.
    pub reference_celsius: [f64; 2],
    /// B-value that the two resistances imply, kelvin; negative when resistance rises.
    pub implied_beta_kelvin: f64,
    /// Resistance at 25 degC that goes with it, ohm.
    pub implied_r25_ohm: f64,
    /// Largest disagreement that still counts as agreement, kelvin.
    pub allowed_kelvin: f64,
}

/// Why points cannot be judged.
#[derive(Clone, Debug, PartialEq)]
pub enum CheckError {
    /// A voltage that the divider cannot give.
    Voltage {
        /// The voltage.
        volts: f64,
        /// Across the divider.
        supply_volts: f64,
    },
    /// Points too near to each other to say anything.
    TooNear(f64),
}

impl fmt::Display for CheckError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Voltage {
                volts,
                supply_volts,
            } => write!(
                f,
                "{volts} V cannot come from this divider; accepted: a voltage between its ends, above 0 and below {supply_volts} V"
            ),
            Self::TooNear(kelvin) => write!(
                f,
                "the two points are {kelvin} K apart; accepted: at least {NEAREST_KELVIN} K, better 20"
            ),
        }
    }
}

impl std::error::Error for CheckError {}

/// Points nearer than this say nothing about a curve, kelvin.
pub const NEAREST_KELVIN: f64 = 5.0;
/// What a reference thermometer and a hand-held meter may be off, kelvin (an assumption).
pub const REFERENCE_KELVIN: f64 = 1.0;

/// Holds two measured points against a design.
///
/// # Errors
/// A voltage that no resistance gives, or two points that are too near to each other.
pub fn judge(sensing: &Sensing, points: [Point; 2]) -> Result<Plausibility, CheckError> {
    let reference_celsius = points.map(|p| p.celsius);
    let apart = (reference_celsius[1] - reference_celsius[0]).abs();
    if apart < NEAREST_KELVIN {
        return Err(CheckError::TooNear(apart));
    }
    let sensor = &sensing.sensor;
    let supply_volts = sensing.facts.supply_volts;
    let ohms = |side: Side| {
        let mut divider = sensor.divider;
        divider.side = side;
        points.map(|p| match p.measured {
            Measured::Ohm(ohm) => ohm,
            Measured::Volts(volts) => divider.ohm_at(volts / supply_volts),
        })
    };
    let ohm = ohms(sensor.divider.side);
    for (point, ohm) in points.iter().zip(ohm) {
        if let Measured::Volts(volts) = point.measured
            && !(ohm > 0.0 && ohm.is_finite())
        {
            return Err(CheckError::Voltage {
                volts,
                supply_volts,
            });
        }
    }
    let read_celsius = ohm.map(|ohm| sensor.curve.celsius_at(ohm));
    // A tolerance of the parts, in degrees at each point, and the reference's own.
    let facts = &sensing.facts;
    let share = facts.nominal_tolerance + facts.resistor_tolerance;
    let allowed_kelvin = reference_celsius
        .iter()
        .map(|&celsius| {
            let ohm = sensor.curve.ohm_at(celsius);
            let ends = [ohm * (1.0 - share), ohm * (1.0 + share)]
                .map(|ohm| (sensor.curve.celsius_at(ohm) - celsius).abs());
            ends[0].max(ends[1]) + facts.beta_tolerance * (celsius - 25.0).abs()
        })
        .fold(0.0, f64::max)
        + REFERENCE_KELVIN;
    let agree = |read: [f64; 2]| {
        read.iter()
            .zip(reference_celsius)
            .all(|(read, celsius)| (read - celsius).abs() <= allowed_kelvin)
    };
    let implied = |ohm: [f64; 2]| {
        Beta::between(
            (reference_celsius[0], ohm[0]),
            (reference_celsius[1], ohm[1]),
        )
    };
    let implied_beta_kelvin = implied(ohm);
    let implied_r25_ohm = {
        let inverse = 1.0 / (reference_celsius[0] + 273.15) - 1.0 / 298.15;
        ohm[0] / (implied_beta_kelvin * inverse).exp()
    };
    let swapped = ohms(match sensor.divider.side {
        Side::Supply => Side::Ground,
        Side::Ground => Side::Supply,
    });
    let platinum = matches!(sensor.curve, Curve::Platinum(_)) || sensor.curve.is_positive();
    let real = |beta: f64| (REAL_BETA_KELVIN.0..=REAL_BETA_KELVIN.1).contains(&beta);
    let finding = if agree(read_celsius) {
        Finding::Agrees
    } else if swapped != ohm && agree(swapped.map(|ohm| sensor.curve.celsius_at(ohm))) {
        Finding::OtherSide
    } else if platinum {
        // One coefficient for all platinum: what does not fit is somewhere else, or another kind of part.
        if implied_beta_kelvin < 0.0 {
            Finding::ProbeElsewhere
        } else {
            Finding::OtherKind
        }
    } else if real(implied_beta_kelvin) {
        Finding::WrongCurve
    } else if implied_beta_kelvin > 0.0 {
        Finding::ProbeElsewhere
    } else {
        Finding::WrongWay
    };
    Ok(Plausibility {
        finding,
        ohm,
        read_celsius,
        reference_celsius,
        implied_beta_kelvin,
        implied_r25_ohm,
        allowed_kelvin,
    })
}

impl Plausibility {
    /// What to do, in words.
    #[must_use]
    pub fn advice(&self) -> String {
        let seen = (self.read_celsius[1] - self.read_celsius[0])
            / (self.reference_celsius[1] - self.reference_celsius[0]);
        match self.finding {
            Finding::Agrees => format!(
                "Both points agree with the design to within {:.1} K.",
                self.allowed_kelvin
            ),
            Finding::OtherSide => {
                "The points fit the design's sensor on the other side of the divider. Check the wiring, or change divider.sensor_side.".to_owned()
            }
            Finding::WrongCurve => format!(
                "The points belong to a real thermistor, but not to this one: they imply a Beta of {:.0} K and {:.0} ohm at 25 degC. Check the part and its data sheet; two hand-taken points are not a curve.",
                self.implied_beta_kelvin, self.implied_r25_ohm
            ),
            Finding::ProbeElsewhere if self.implied_beta_kelvin > 0.0 => format!(
                "The probe is not at the reference's temperature. The points imply a Beta of {:.0} K, and real thermistors have {:.0} to {:.0} K; by the design's curve the probe saw {:.0} % of the change. Improve its contact, or wait longer, and measure again. No curve should be fitted to these points.",
                self.implied_beta_kelvin,
                REAL_BETA_KELVIN.0,
                REAL_BETA_KELVIN.1,
                100.0 * seen
            ),
            Finding::ProbeElsewhere => format!(
                "The probe is not at the reference's temperature: by the design's curve it saw {:.0} % of the change. Improve its contact, or wait longer, and measure again.",
                100.0 * seen
            ),
            Finding::OtherKind => format!(
                "Resistance falls from the colder to the hotter point, and the design's sensor does the opposite. Check which point is which and what kind of part it is: a thermistor would have a Beta of {:.0} K here, and real ones have {:.0} to {:.0} K.",
                self.implied_beta_kelvin, REAL_BETA_KELVIN.0, REAL_BETA_KELVIN.1
            ),
            Finding::WrongWay => {
                "Resistance rises from the colder to the hotter point. Check which point is which, the side of the divider, and whether the part is a thermistor with a negative coefficient at all.".to_owned()
            }
        }
    }
}
