//! `1/T = A + B ln R + C (ln R)^3`, T in kelvin, R in ohm.
//! Source: J. S. Steinhart, S. R. Hart, Deep-Sea Research 15 (1968) 497-503.

use super::ZERO_CELSIUS_KELVIN;
use crate::real;

/// Thermistor by the three coefficients of Steinhart and Hart.
///
/// ```
/// use sensor_math::curve::SteinhartHart;
/// const PART: SteinhartHart = SteinhartHart::new(1.40e-3, 2.37e-4, 9.90e-8);
/// assert!((PART.celsius_at(3000.0) - 25.507393635).abs() < 1e-8);
/// assert!((PART.ohm_at(25.0) - 3067.5000511).abs() < 1e-6);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteinhartHart {
    /// A, 1/K.
    pub a: f64,
    /// B, 1/K.
    pub b: f64,
    /// C, 1/K.
    pub c: f64,
}

/// Why three points give no Steinhart-Hart curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SteinhartHartError {
    /// A resistance that is not above zero, or a temperature not above absolute zero.
    Impossible,
    /// Two points with the same temperature or the same resistance.
    Equal,
    /// Resistance does not fall as temperature rises, or the curve through the points turns back
    /// between them.
    NotMonotone,
}

impl core::fmt::Display for SteinhartHartError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Impossible => {
                "a fit point has a resistance that is not above zero or a temperature below absolute zero"
            }
            Self::Equal => "two fit points have the same temperature or the same resistance",
            Self::NotMonotone => {
                "the fit points give no curve whose resistance falls steadily as temperature rises"
            }
        })
    }
}

impl core::error::Error for SteinhartHartError {}

impl SteinhartHart {
    /// From coefficients in 1/K, for R in ohm.
    pub const fn new(a: f64, b: f64, c: f64) -> Self {
        Self { a, b, c }
    }

    /// Fitted through three points, each (degrees Celsius, ohm), in any order.
    ///
    /// With `L = ln R`, `Y = 1/T`, `g_i = (Y_i - Y_1) / (L_i - L_1)`:
    /// `C = (g3 - g2) / (L3 - L2) / (L1 + L2 + L3)`, `B = g2 - C (L1^2 + L1 L2 + L2^2)`,
    /// `A = Y1 - (B + C L1^2) L1` (the three simultaneous equations of the paper, solved).
    ///
    /// ```
    /// use sensor_math::curve::SteinhartHart;
    /// let part = SteinhartHart::through([(0.0, 30_000.0), (25.0, 10_000.0), (70.0, 2_000.0)]).unwrap();
    /// assert!((part.ohm_at(40.0) - 5580.976258).abs() < 1e-5);
    /// ```
    pub const fn through(points: [(f64, f64); 3]) -> Result<Self, SteinhartHartError> {
        let mut l = [0.0; 3];
        let mut y = [0.0; 3];
        let mut i = 0;
        while i < 3 {
            let (celsius, ohm) = points[i];
            let kelvin = celsius + ZERO_CELSIUS_KELVIN;
            if !(ohm > 0.0 && ohm < f64::INFINITY && kelvin > 0.0 && kelvin < f64::INFINITY) {
                return Err(SteinhartHartError::Impossible);
            }
            l[i] = real::ln(ohm);
            y[i] = 1.0 / kelvin;
            i += 1;
        }
        if l[0] == l[1]
            || l[1] == l[2]
            || l[0] == l[2]
            || y[0] == y[1]
            || y[1] == y[2]
            || y[0] == y[2]
        {
            return Err(SteinhartHartError::Equal);
        }
        let g2 = (y[1] - y[0]) / (l[1] - l[0]);
        let g3 = (y[2] - y[0]) / (l[2] - l[0]);
        let c = (g3 - g2) / (l[2] - l[1]) / (l[0] + l[1] + l[2]);
        let b = g2 - c * (l[0] * l[0] + l[0] * l[1] + l[1] * l[1]);
        let a = y[0] - (b + c * l[0] * l[0]) * l[0];
        // Hotter must mean fewer ohms, at the points and between them.
        let l_hot = real::ln(Self::of_hottest(&points));
        let l_cold = real::ln(Self::of_coldest(&points));
        let curve = Self { a, b, c };
        if l_hot >= l_cold || !curve.slope_is_positive(l_hot, l_cold) {
            return Err(SteinhartHartError::NotMonotone);
        }
        Ok(curve)
    }

    const fn of_hottest(points: &[(f64, f64); 3]) -> f64 {
        let mut best = points[0];
        let mut i = 1;
        while i < 3 {
            if points[i].0 > best.0 {
                best = points[i];
            }
            i += 1;
        }
        best.1
    }

    const fn of_coldest(points: &[(f64, f64); 3]) -> f64 {
        let mut best = points[0];
        let mut i = 1;
        while i < 3 {
            if points[i].0 < best.0 {
                best = points[i];
            }
            i += 1;
        }
        best.1
    }

    /// Whether `d(1/T)/d(ln R) = B + 3 C L^2` is above zero for every L between two values.
    const fn slope_is_positive(&self, l_low: f64, l_high: f64) -> bool {
        let at_low = self.b + 3.0 * self.c * l_low * l_low;
        let at_high = self.b + 3.0 * self.c * l_high * l_high;
        let at_zero = if l_low < 0.0 && l_high > 0.0 {
            self.b
        } else {
            at_low
        };
        at_low > 0.0 && at_high > 0.0 && at_zero > 0.0
    }

    pub(crate) const fn is_monotone_over(&self, low_celsius: f64, high_celsius: f64) -> bool {
        let hot = self.ohm_at(high_celsius);
        let cold = self.ohm_at(low_celsius);
        // Whether the inverse found the point at all, and then the slope all the way between.
        hot > 0.0
            && cold < f64::INFINITY
            && hot < cold
            && real::abs(self.celsius_at(hot) - high_celsius) < 1e-6
            && real::abs(self.celsius_at(cold) - low_celsius) < 1e-6
            && self.slope_is_positive(real::ln(hot), real::ln(cold))
    }

    /// Resistance in ohm at a temperature in degrees Celsius.
    ///
    /// Newton's iteration on the cubic in ln R from the solution without its cubic term, which
    /// stays exact as C goes to zero, where the closed form cancels.
    pub const fn ohm_at(&self, celsius: f64) -> f64 {
        let target = 1.0 / (celsius + ZERO_CELSIUS_KELVIN);
        let mut l = (target - self.a) / self.b;
        let mut i = 0;
        while i < 60 {
            let error = self.a + (self.b + self.c * l * l) * l - target;
            let step = error / (self.b + 3.0 * self.c * l * l);
            l -= step;
            if real::abs(step) <= 1e-16 * real::abs(l) {
                break;
            }
            i += 1;
        }
        real::exp(l)
    }

    /// Temperature in degrees Celsius at a resistance in ohm.
    pub const fn celsius_at(&self, ohm: f64) -> f64 {
        if ohm <= 0.0 {
            return f64::INFINITY;
        }
        if ohm == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        let l = real::ln(ohm);
        let inverse = self.a + (self.b + self.c * l * l) * l;
        if inverse <= 0.0 {
            return f64::INFINITY;
        }
        1.0 / inverse - ZERO_CELSIUS_KELVIN
    }
}

#[cfg(test)]
mod tests;
