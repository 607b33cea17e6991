//! How a sensor's resistance and its temperature belong together, both ways, in `const` context.
//!
//! Every curve answers for resistances that no real sensor has, too, so that a search along the
//! code axis stays ordered: at 0 ohm and at infinite resistance the temperature is the infinity
//! of the matching sign (a negative-temperature-coefficient part is infinitely hot at 0 ohm).

mod beta;
mod platinum;
mod points;
mod steinhart_hart;

pub use beta::Beta;
pub use platinum::Platinum;
pub use points::{Point, Points, PointsError};
pub use steinhart_hart::{SteinhartHart, SteinhartHartError};

/// Zero degrees Celsius in kelvin, by definition of the Celsius scale.
pub const ZERO_CELSIUS_KELVIN: f64 = 273.15;

/// The curve of a sensor.
///
/// ```
/// use sensor_math::curve::{Beta, Curve};
/// const NTC: Curve = Curve::Beta(Beta::new(10_000.0, 3435.0));
/// assert_eq!(NTC.ohm_at(25.0), 10_000.0);
/// assert!((NTC.celsius_at(2980.853023) - 60.0).abs() < 1e-7);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Curve {
    /// One-parameter equation of a thermistor.
    Beta(Beta),
    /// Three-parameter equation of a thermistor.
    SteinhartHart(SteinhartHart),
    /// Industrial platinum sensor, IEC 60751.
    Platinum(Platinum),
    /// Measured points.
    Points(Points),
}

impl Curve {
    /// Resistance in ohm at a temperature in degrees Celsius.
    pub const fn ohm_at(&self, celsius: f64) -> f64 {
        match self {
            Self::Beta(curve) => curve.ohm_at(celsius),
            Self::SteinhartHart(curve) => curve.ohm_at(celsius),
            Self::Platinum(curve) => curve.ohm_at(celsius),
            Self::Points(curve) => curve.ohm_at(celsius),
        }
    }

    /// Temperature in degrees Celsius at a resistance in ohm.
    pub const fn celsius_at(&self, ohm: f64) -> f64 {
        match self {
            Self::Beta(curve) => curve.celsius_at(ohm),
            Self::SteinhartHart(curve) => curve.celsius_at(ohm),
            Self::Platinum(curve) => curve.celsius_at(ohm),
            Self::Points(curve) => curve.celsius_at(ohm),
        }
    }

    /// Whether resistance rises with temperature (platinum), rather than falls (NTC).
    pub const fn is_positive(&self) -> bool {
        match self {
            Self::Beta(_) | Self::SteinhartHart(_) => false,
            Self::Platinum(_) => true,
            Self::Points(curve) => curve.is_positive(),
        }
    }

    /// Lowest and highest temperature the curve is meant for, in degrees Celsius: the range of
    /// IEC 60751 for platinum, the outermost points for measured points, and for the two
    /// thermistor equations -100 to 300, wider than any such part is sold for.
    pub const fn range_celsius(&self) -> (f64, f64) {
        match self {
            Self::Beta(_) | Self::SteinhartHart(_) => (-100.0, 300.0),
            Self::Platinum(_) => (Platinum::LOWEST_CELSIUS, Platinum::HIGHEST_CELSIUS),
            Self::Points(curve) => curve.range_celsius(),
        }
    }

    /// Whether the parameters make a usable curve: positive, finite, and strictly monotone between
    /// two temperatures in degrees Celsius.
    pub const fn is_valid_over(&self, low_celsius: f64, high_celsius: f64) -> bool {
        match self {
            Self::Beta(curve) => curve.is_valid(),
            Self::SteinhartHart(curve) => curve.is_monotone_over(low_celsius, high_celsius),
            Self::Platinum(curve) => curve.is_valid(),
            Self::Points(_) => true,
        }
    }
}

#[cfg(test)]
mod tests;
