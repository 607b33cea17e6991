//! Converter, divider and curve together: the truth that every table is measured against.

use crate::adc::Adc;
use crate::curve::Curve;
use crate::divider::{Divider, Side};
use crate::fault::Limits;
use crate::real;

/// A sensor at a converter's input.
///
/// ```
/// use sensor_math::{Sensor, adc::Adc, curve::{Beta, Curve}, divider::{Divider, Side}};
/// const SENSOR: Sensor = Sensor {
///     adc: Adc::ratiometric(10),
///     divider: Divider::new(Side::Supply, 10_000.0),
///     curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
/// };
/// assert_eq!(SENSOR.code_at(25.0), 512);
/// assert!((SENSOR.celsius_at_code(512) - 25.05).abs() < 0.01);
/// let codes = SENSOR.codes(-10.0, 100.0).unwrap();
/// assert_eq!((codes.first, codes.last, codes.rising), (182, 931, true));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// Converter.
    pub adc: Adc,
    /// Divider.
    pub divider: Divider,
    /// Curve of the sensing element.
    pub curve: Curve,
}

/// The codes whose temperature, at their middle, lies within a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Codes {
    /// Lowest code of the range.
    pub first: u16,
    /// Highest code of the range.
    pub last: u16,
    /// Whether temperature rises with the code.
    pub rising: bool,
}

impl Codes {
    /// How many codes there are.
    pub const fn count(&self) -> u32 {
        self.last as u32 - self.first as u32 + 1
    }
}

/// Why a sensor cannot measure a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SensorError {
    /// Converter width outside 8..=16 bits, or a reference or supply that is not above zero.
    Adc,
    /// A resistance of the divider that is not above zero (series: not zero or above).
    Divider,
    /// The range's lower end is not below its upper end, or one of them is not a number.
    EmptyRange,
    /// The range leaves the temperatures that the curve is good for.
    OutsideCurve {
        /// Lowest temperature of the curve, degrees Celsius.
        lowest_celsius: f64,
        /// Highest temperature of the curve, degrees Celsius.
        highest_celsius: f64,
    },
    /// The curve's parameters are impossible, or it turns back within the range.
    Curve,
    /// One end of the range gives the converter's first or last code, or a voltage beyond it, or
    /// the whole range fewer than [`Sensor::CODES_MIN`] codes.
    Unseen,
    /// A broken wire gives a code too near to the range to be told from a temperature.
    OpenUnseen,
    /// A short gives a code too near to the range to be told from a temperature.
    ShortUnseen,
}

impl core::fmt::Display for SensorError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Adc => write!(
                f,
                "the converter needs {} to {} bits and voltages above zero",
                Adc::BITS_MIN,
                Adc::BITS_MAX
            ),
            Self::Divider => write!(
                f,
                "divider and parallel resistors must be above 0 ohm, a series resistor not below 0"
            ),
            Self::EmptyRange => write!(f, "the range's lower end must be below its upper end"),
            Self::OutsideCurve {
                lowest_celsius,
                highest_celsius,
            } => write!(
                f,
                "the range must lie within the curve's own, {lowest_celsius} to {highest_celsius} degC"
            ),
            Self::Curve => write!(
                f,
                "the curve's parameters must be positive and its resistance must go one way only over the range"
            ),
            Self::Unseen => write!(
                f,
                "the converter cannot see the range: it needs at least {} codes, clear of the first and the last code",
                Sensor::CODES_MIN
            ),
            Self::OpenUnseen => write!(
                f,
                "a broken sensor wire would read as a temperature; it must be at least {} codes from the range",
                Sensor::FAULT_MARGIN_CODES
            ),
            Self::ShortUnseen => write!(
                f,
                "a short across the sensor would read as a temperature; it must be at least {} codes from the range",
                Sensor::FAULT_MARGIN_CODES
            ),
        }
    }
}

impl core::error::Error for SensorError {}

impl Sensor {
    /// Fewest codes a range must span.
    pub const CODES_MIN: u32 = 8;
    /// Fewest codes between the range and what a broken wire or a short reads as.
    pub const FAULT_MARGIN_CODES: u16 = 2;

    /// The truth: temperature in degrees Celsius at a position on the code axis (the middle of
    /// code `c` is `c + 0.5`). Infinite where no resistance gives that voltage.
    pub const fn celsius_at_position(&self, position: f64) -> f64 {
        self.curve
            .celsius_at(self.divider.ohm_at(self.adc.ratio_at(position)))
    }

    /// Temperature in degrees Celsius that a code stands for, taken at the code's middle.
    pub const fn celsius_at_code(&self, code: u16) -> f64 {
        self.celsius_at_position(code as f64 + 0.5)
    }

    /// Position on the code axis of a temperature in degrees Celsius, not clamped.
    pub const fn position_at(&self, celsius: f64) -> f64 {
        self.adc
            .position_at(self.divider.ratio_at(self.curve.ohm_at(celsius)))
    }

    /// Code read at a temperature in degrees Celsius, saturating at both ends.
    pub const fn code_at(&self, celsius: f64) -> u16 {
        self.adc
            .code_at(self.divider.ratio_at(self.curve.ohm_at(celsius)))
    }

    /// Whether temperature rises with the code.
    pub const fn is_rising(&self) -> bool {
        match self.divider.side {
            Side::Supply => !self.curve.is_positive(),
            Side::Ground => self.curve.is_positive(),
        }
    }

    /// The codes of a range in degrees Celsius: those whose temperature, at their middle, is within it.
    ///
    /// # Errors
    /// When converter, divider, curve or range are unusable, or the converter cannot see the range.
    pub const fn codes(&self, low_celsius: f64, high_celsius: f64) -> Result<Codes, SensorError> {
        if !self.adc.is_valid() {
            return Err(SensorError::Adc);
        }
        if !self.divider.is_valid() {
            return Err(SensorError::Divider);
        }
        if low_celsius >= high_celsius || low_celsius.is_nan() || high_celsius.is_nan() {
            return Err(SensorError::EmptyRange);
        }
        let (lowest_celsius, highest_celsius) = self.curve.range_celsius();
        if low_celsius < lowest_celsius || high_celsius > highest_celsius {
            return Err(SensorError::OutsideCurve {
                lowest_celsius,
                highest_celsius,
            });
        }
        if !self.curve.is_valid_over(low_celsius, high_celsius) {
            return Err(SensorError::Curve);
        }
        let rising = self.is_rising();
        let (a, b) = if rising {
            (low_celsius, high_celsius)
        } else {
            (high_celsius, low_celsius)
        };
        let (a, b) = (self.position_at(a), self.position_at(b));
        // The first code whose middle is at or after a, the last whose middle is at or before b.
        let first = -real::floor(0.5 - a);
        let last = real::floor(b - 0.5);
        if first < 1
            || last >= self.adc.last_code() as i64
            || last - first + 1 < Self::CODES_MIN as i64
        {
            return Err(SensorError::Unseen);
        }
        Ok(Codes {
            first: first as u16,
            last: last as u16,
            rising,
        })
    }

    /// The codes of a range for `const` items: an unusable design does not compile.
    ///
    /// # Panics
    /// When [`Sensor::codes`] would return an error.
    pub const fn codes_or_panic(&self, low_celsius: f64, high_celsius: f64) -> Codes {
        match self.codes(low_celsius, high_celsius) {
            Ok(codes) => codes,
            Err(error) => refuse(error),
        }
    }

    /// Validity range and the thresholds for a broken wire and a short, out of the divider and the
    /// range: each threshold lies half-way, in codes, between the range's end and the code that the
    /// fault gives. A parallel or series resistor moves those codes away from the rails.
    ///
    /// # Errors
    /// As [`Sensor::codes`], and when a fault could not be told from a temperature.
    pub const fn limits(&self, low_celsius: f64, high_celsius: f64) -> Result<Limits, SensorError> {
        let codes = match self.codes(low_celsius, high_celsius) {
            Ok(codes) => codes,
            Err(error) => return Err(error),
        };
        let open = self.adc.code_at(self.divider.ratio_at(f64::INFINITY));
        let short = self.adc.code_at(self.divider.ratio_at(0.0));
        let open_is_low = open < short;
        let (open, short) = if open_is_low {
            if too_near(open, codes.first) {
                return Err(SensorError::OpenUnseen);
            }
            if too_near(codes.last, short) {
                return Err(SensorError::ShortUnseen);
            }
            (
                half_way_down(open, codes.first),
                half_way_up(codes.last, short),
            )
        } else {
            if too_near(short, codes.first) {
                return Err(SensorError::ShortUnseen);
            }
            if too_near(codes.last, open) {
                return Err(SensorError::OpenUnseen);
            }
            (
                half_way_up(codes.last, open),
                half_way_down(short, codes.first),
            )
        };
        Ok(Limits::new(codes.first, codes.last, open, short))
    }

    /// The same for `const` items.
    ///
    /// # Panics
    /// When [`Sensor::limits`] would return an error.
    pub const fn limits_or_panic(&self, low_celsius: f64, high_celsius: f64) -> Limits {
        match self.limits(low_celsius, high_celsius) {
            Ok(limits) => limits,
            Err(error) => refuse(error),
        }
    }
}

/// Whether `high` is not [`Sensor::FAULT_MARGIN_CODES`] codes above `low`. A sum could pass the last code of 16 bits.
const fn too_near(low: u16, high: u16) -> bool {
    high.saturating_sub(low) < Sensor::FAULT_MARGIN_CODES
}

/// Middle between two codes, nearer to the lower one, and below the upper one.
const fn half_way_down(low: u16, high: u16) -> u16 {
    low + (high - low) / 2
}

/// Middle between two codes, nearer to the upper one, and above the lower one.
const fn half_way_up(low: u16, high: u16) -> u16 {
    high - (high - low) / 2
}

/// Compile-time message of each error, in few words.
const fn refuse(error: SensorError) -> ! {
    match error {
        SensorError::Adc => panic!("converter: 8 to 16 bits, voltages above zero"),
        SensorError::Divider => panic!("divider: resistances must be above zero"),
        SensorError::EmptyRange => panic!("range: lower end must be below upper end"),
        SensorError::OutsideCurve { .. } => panic!("range leaves the curve's own range"),
        SensorError::Curve => panic!("curve: impossible parameters, or it turns back in the range"),
        SensorError::Unseen => panic!("the converter cannot see the range"),
        SensorError::OpenUnseen => panic!("a broken sensor wire would read as a temperature"),
        SensorError::ShortUnseen => panic!("a short would read as a temperature"),
    }
}

#[cfg(test)]
mod tests;
