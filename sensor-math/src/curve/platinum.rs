//! `R = R0 (1 + A t + B t^2)` from 0 degC up, `R = R0 (1 + A t + B t^2 + C (t - 100) t^3)` below.
//! Source: IEC 60751, relationship between temperature and resistance (temperature scale ITS-90).

use crate::real;

/// IEC 60751, 1/degC.
const A: f64 = 3.9083e-3;
/// IEC 60751, 1/degC^2.
const B: f64 = -5.775e-7;
/// IEC 60751, 1/degC^4, below 0 degC only.
const C: f64 = -4.183e-12;

/// Industrial platinum sensor by its resistance at 0 degC: 100 for a Pt100, 1000 for a Pt1000.
///
/// ```
/// use sensor_math::curve::Platinum;
/// const PT100: Platinum = Platinum::new(100.0);
/// assert!((PT100.ohm_at(100.0) - 138.5055).abs() < 1e-9);
/// assert!((PT100.celsius_at(20.0) - -196.571969580).abs() < 1e-8);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Platinum {
    /// Resistance at 0 degC, ohm.
    pub r0_ohm: f64,
}

impl Platinum {
    /// Lower end of the relationship, degC.
    pub const LOWEST_CELSIUS: f64 = -200.0;
    /// Upper end of the relationship, degC.
    pub const HIGHEST_CELSIUS: f64 = 850.0;

    /// From the resistance at 0 degC in ohm.
    pub const fn new(r0_ohm: f64) -> Self {
        Self { r0_ohm }
    }

    pub(crate) const fn is_valid(&self) -> bool {
        self.r0_ohm > 0.0 && self.r0_ohm < f64::INFINITY
    }

    /// Resistance in ohm at a temperature in degrees Celsius. Outside -200 to 850 the polynomial
    /// is continued; it is not claimed to hold there.
    pub const fn ohm_at(&self, celsius: f64) -> f64 {
        let t = celsius;
        let below = if t < 0.0 {
            C * (t - 100.0) * t * t * t
        } else {
            0.0
        };
        self.r0_ohm * (1.0 + (A + B * t) * t + below)
    }

    /// Temperature in degrees Celsius at a resistance in ohm: the quadratic's root from R0 up,
    /// Newton's iteration on the quartic below. Infinite where the polynomial has no root.
    pub const fn celsius_at(&self, ohm: f64) -> f64 {
        if ohm <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let w = ohm / self.r0_ohm;
        if w >= 1.0 {
            let root = A * A - 4.0 * B * (1.0 - w);
            // Written so that nothing cancels near 0 degC. NaN and infinity fall through here.
            return if root >= 0.0 {
                2.0 * (w - 1.0) / (A + real::sqrt(root))
            } else {
                f64::INFINITY
            };
        }
        // From the straight line, which is at most 13 K off, three steps of Newton's iteration come to the
        // rounding of f64, down to where the continued polynomial meets 0 ohm.
        let mut t = (w - 1.0) / A;
        let mut i = 0;
        while i < 3 {
            let value = 1.0 + (A + B * t) * t + C * (t - 100.0) * t * t * t;
            let slope = A + 2.0 * B * t + C * (4.0 * t - 300.0) * t * t;
            t -= (value - w) / slope;
            i += 1;
        }
        t
    }
}
