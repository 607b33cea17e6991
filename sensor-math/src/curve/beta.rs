//! `R = R25 exp(B (1/T - 1/298.15))`, T in kelvin. Source: IEC 60539-1, definition of the B-value.

use super::ZERO_CELSIUS_KELVIN;
use crate::real;

/// 25 degC in kelvin, the reference temperature of the B-value.
const REFERENCE_KELVIN: f64 = ZERO_CELSIUS_KELVIN + 25.0;

/// Thermistor by its resistance at 25 degC and its B-value.
///
/// ```
/// use sensor_math::curve::Beta;
/// const PART: Beta = Beta::new(10_000.0, 3950.0);
/// assert!((PART.ohm_at(0.0) - 33_620.603721).abs() < 1e-6);
/// assert!((PART.celsius_at(500.0) - 112.116900451).abs() < 1e-8);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    /// Resistance at 25 degC, ohm.
    pub r25_ohm: f64,
    /// B-value, kelvin.
    pub beta_kelvin: f64,
}

impl Beta {
    /// From resistance at 25 degC in ohm and B-value in kelvin.
    pub const fn new(r25_ohm: f64, beta_kelvin: f64) -> Self {
        Self {
            r25_ohm,
            beta_kelvin,
        }
    }

    /// The B-value that two resistances imply, `ln(R1/R2) / (1/T1 - 1/T2)`, in kelvin.
    ///
    /// ```
    /// use sensor_math::curve::Beta;
    /// let b = Beta::between((25.0, 10_000.0), (85.0, 1_451.347087));
    /// assert!((b - 3435.0).abs() < 1e-4);
    /// ```
    pub const fn between(first: (f64, f64), second: (f64, f64)) -> f64 {
        let difference =
            1.0 / (first.0 + ZERO_CELSIUS_KELVIN) - 1.0 / (second.0 + ZERO_CELSIUS_KELVIN);
        real::ln(first.1 / second.1) / difference
    }

    pub(crate) const fn is_valid(&self) -> bool {
        self.r25_ohm > 0.0
            && self.r25_ohm < f64::INFINITY
            && self.beta_kelvin > 0.0
            && self.beta_kelvin < f64::INFINITY
    }

    /// Resistance in ohm at a temperature in degrees Celsius above absolute zero.
    pub const fn ohm_at(&self, celsius: f64) -> f64 {
        let kelvin = celsius + ZERO_CELSIUS_KELVIN;
        self.r25_ohm * real::exp(self.beta_kelvin * (1.0 / kelvin - 1.0 / REFERENCE_KELVIN))
    }

    /// Temperature in degrees Celsius at a resistance in ohm.
    pub const fn celsius_at(&self, ohm: f64) -> f64 {
        if ohm <= 0.0 {
            return f64::INFINITY;
        }
        if ohm == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        let inverse = 1.0 / REFERENCE_KELVIN + real::ln(ohm / self.r25_ohm) / self.beta_kelvin;
        if inverse <= 0.0 {
            return f64::INFINITY;
        }
        1.0 / inverse - ZERO_CELSIUS_KELVIN
    }
}
