//! Measured points with a monotone interpolation between them.
//!
//! Between points, `1/T` is a cubic Hermite polynomial of `ln R`: for a thermistor that relation is
//! nearly straight, so few points go far, and it does no harm to a platinum sensor. The slopes at
//! the points are the weighted harmonic means of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5
//! (1984) 300-304; from memory), which keep every piece monotone: a test checks it. Beyond the
//! outermost points the curve goes on along its end slope, so that a search along the code axis
//! stays ordered; it is not claimed to hold there.

use super::ZERO_CELSIUS_KELVIN;
use crate::real;

/// One measured point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Temperature, degrees Celsius.
    pub celsius: f64,
    /// Resistance, ohm.
    pub ohm: f64,
}

/// Why a list of points is no curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointsError {
    /// Fewer than two points.
    TooFew,
    /// The point of this index has a resistance that is not above zero, or a temperature not above
    /// absolute zero.
    Impossible(usize),
    /// The point of this index is not hotter than the one before it.
    NotAscending(usize),
    /// Resistance at the point of this index equals the one before, or turns back.
    NotMonotone(usize),
}

impl core::fmt::Display for PointsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::TooFew => write!(f, "a curve needs at least 2 points"),
            Self::Impossible(i) => write!(
                f,
                "point {} has a resistance that is not above zero or a temperature below absolute zero",
                i + 1
            ),
            Self::NotAscending(i) => {
                write!(
                    f,
                    "point {} is not hotter than the one before it; list points from cold to hot",
                    i + 1
                )
            }
            Self::NotMonotone(i) => write!(
                f,
                "resistance at point {} equals the one before it or turns back; it must only fall, or only rise",
                i + 1
            ),
        }
    }
}

impl core::error::Error for PointsError {}

/// A curve through measured points, from cold to hot.
///
/// ```
/// use sensor_math::curve::{Point, Points};
/// const MEASURED: Points = Points::constant(&[
///     Point { celsius: 0.0, ohm: 33_620.6 },
///     Point { celsius: 25.0, ohm: 10_000.0 },
///     Point { celsius: 60.0, ohm: 2_486.2 },
///     Point { celsius: 100.0, ohm: 697.5 },
/// ]);
/// assert!((MEASURED.celsius_at(10_000.0) - 25.0).abs() < 1e-9);
/// assert!((MEASURED.ohm_at(40.0) - 5_301.5).abs() < 5.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Points {
    points: &'static [Point],
}

impl Points {
    /// Checks and takes the points, at least two, from cold to hot.
    ///
    /// # Errors
    /// Names the first point that is impossible, not hotter than the one before it, or whose
    /// resistance does not go on in the same direction.
    pub const fn new(points: &'static [Point]) -> Result<Self, PointsError> {
        if points.len() < 2 {
            return Err(PointsError::TooFew);
        }
        let mut i = 0;
        while i < points.len() {
            let p = points[i];
            if !(p.ohm > 0.0
                && p.ohm < f64::INFINITY
                && p.celsius > -ZERO_CELSIUS_KELVIN
                && p.celsius < f64::INFINITY)
            {
                return Err(PointsError::Impossible(i));
            }
            if i > 0 {
                if p.celsius <= points[i - 1].celsius {
                    return Err(PointsError::NotAscending(i));
                }
                let rises = p.ohm > points[i - 1].ohm;
                if p.ohm == points[i - 1].ohm || rises != (points[1].ohm > points[0].ohm) {
                    return Err(PointsError::NotMonotone(i));
                }
            }
            i += 1;
        }
        Ok(Self { points })
    }

    /// The same for `const` items: an unusable list does not compile.
    ///
    /// # Panics
    /// When [`Points::new`] would return an error.
    pub const fn constant(points: &'static [Point]) -> Self {
        match Self::new(points) {
            Ok(curve) => curve,
            Err(PointsError::TooFew) => panic!("a curve needs at least 2 points"),
            Err(PointsError::Impossible(_)) => panic!("a point is physically impossible"),
            Err(PointsError::NotAscending(_)) => panic!("points must go from cold to hot"),
            Err(PointsError::NotMonotone(_)) => panic!("resistance must only fall, or only rise"),
        }
    }

    /// Whether resistance rises with temperature.
    pub const fn is_positive(&self) -> bool {
        self.points[1].ohm > self.points[0].ohm
    }

    /// Temperatures of the first and the last point, degrees Celsius.
    pub const fn range_celsius(&self) -> (f64, f64) {
        (
            self.points[0].celsius,
            self.points[self.points.len() - 1].celsius,
        )
    }

    const fn x(&self, i: usize) -> f64 {
        real::ln(self.points[i].ohm)
    }

    const fn y(&self, i: usize) -> f64 {
        1.0 / (self.points[i].celsius + ZERO_CELSIUS_KELVIN)
    }

    /// Slope d(1/T)/d(ln R) at point `i`.
    const fn slope(&self, i: usize) -> f64 {
        let last = self.points.len() - 1;
        if i == 0 {
            return (self.y(1) - self.y(0)) / (self.x(1) - self.x(0));
        }
        let before = self.x(i) - self.x(i - 1);
        let secant_before = (self.y(i) - self.y(i - 1)) / before;
        if i == last {
            return secant_before;
        }
        let after = self.x(i + 1) - self.x(i);
        let secant_after = (self.y(i + 1) - self.y(i)) / after;
        let weight_before = 2.0 * after + before;
        let weight_after = after + 2.0 * before;
        (weight_before + weight_after)
            / (weight_before / secant_before + weight_after / secant_after)
    }

    /// `1/T` at `ln R` on the piece that begins at point `i`.
    const fn piece(&self, i: usize, l: f64) -> f64 {
        let (x0, x1) = (self.x(i), self.x(i + 1));
        let (y0, y1) = (self.y(i), self.y(i + 1));
        let h = x1 - x0;
        let s = (l - x0) / h;
        let (m0, m1) = (self.slope(i) * h, self.slope(i + 1) * h);
        let r = 1.0 - s;
        r * r * ((1.0 + 2.0 * s) * y0 + s * m0) + s * s * ((3.0 - 2.0 * s) * y1 - r * m1)
    }

    /// Temperature in degrees Celsius at a resistance in ohm.
    pub const fn celsius_at(&self, ohm: f64) -> f64 {
        let positive = self.is_positive();
        if ohm <= 0.0 {
            return if positive {
                f64::NEG_INFINITY
            } else {
                f64::INFINITY
            };
        }
        if ohm == f64::INFINITY {
            return if positive {
                f64::INFINITY
            } else {
                f64::NEG_INFINITY
            };
        }
        let l = real::ln(ohm);
        let last = self.points.len() - 1;
        // How many points are colder than this resistance.
        let mut i = 0;
        while i <= last && (ohm > self.points[i].ohm) == positive && ohm != self.points[i].ohm {
            i += 1;
        }
        let inverse = if i == 0 {
            self.y(0) + self.slope(0) * (l - self.x(0))
        } else if i > last {
            self.y(last) + self.slope(last) * (l - self.x(last))
        } else {
            self.piece(i - 1, l)
        };
        if inverse <= 0.0 {
            return f64::INFINITY;
        }
        1.0 / inverse - ZERO_CELSIUS_KELVIN
    }

    /// Resistance in ohm at a temperature in degrees Celsius, by bisection of the same curve.
    pub const fn ohm_at(&self, celsius: f64) -> f64 {
        let target = 1.0 / (celsius + ZERO_CELSIUS_KELVIN);
        let last = self.points.len() - 1;
        if celsius <= self.points[0].celsius {
            return real::exp(self.x(0) + (target - self.y(0)) / self.slope(0));
        }
        if celsius >= self.points[last].celsius {
            return real::exp(self.x(last) + (target - self.y(last)) / self.slope(last));
        }
        let mut i = 0;
        while celsius > self.points[i + 1].celsius {
            i += 1;
        }
        // cold is the end with the larger 1/T
        let (mut cold, mut hot) = (self.x(i), self.x(i + 1));
        let mut turns = 0;
        while turns < 60 {
            let middle = 0.5 * (cold + hot);
            if self.piece(i, middle) > target {
                cold = middle;
            } else {
                hot = middle;
            }
            turns += 1;
        }
        real::exp(0.5 * (cold + hot))
    }
}

#[cfg(test)]
mod tests;
