//! How far a loop is from trouble: gain margin, phase margin, maximum sensitivity, delay margin.
//!
//! Everything is read off the frequency response `L(j w)` of the open loop, law times plant, with the sign that makes
//! negative feedback of it. With `S = 1 / (1 + L)` the sensitivity:
//!
//! | figure | definition |
//! |---|---|
//! | gain margin | `1 / abs(L)` where the phase of `L` is -180 degrees: the factor that brings the loop to its limit |
//! | phase margin | `180 degrees + phase(L)` where `abs(L) = 1` |
//! | maximum sensitivity `Ms` | largest `abs(S)` over all frequencies; `1 / Ms` is the distance of the curve from -1 |
//! | `Mt` | largest `abs(L S)`, the peak of the response to the set point |
//! | delay margin | phase margin in radians divided by the frequency where `abs(L) = 1`: dead time that may be added |
//!
//! Source: K. J. Astrom, R. M. Murray, Feedback Systems (2008), sections 9.3 and 11.3 (stability margins, sensitivity). A loop
//! is stable when `1 + L` does not go round the origin (Nyquist 1932, with the integrators of the law kept outside the contour);
//! [`Margins::stable`] counts just that. For `Ms = 2` the gain margin is at least 2 and the phase margin at least 29 degrees.
//!
//! ```
//! use host_harness::margins::Margins;
//! use num_complex::Complex64;
//! // the loop that the SIMC rule makes of any first-order plant with dead time 1: L = 0.5 exp(-s) / s
//! let of = |w: f64| 0.5 * Complex64::cis(-w) / Complex64::new(0.0, w);
//! let m = Margins::of(&of, 1e-3, 1e3, 1);
//! assert!((m.gain_margin - std::f64::consts::PI).abs() < 1e-6);
//! assert!((m.phase_margin_degrees() - 61.35).abs() < 0.01);
//! assert!((m.sensitivity_max - 1.5905).abs() < 1e-4);
//! assert!((m.delay_margin_s - 2.1416).abs() < 1e-4);
//! ```

pub mod figures;
pub mod law;
pub mod linear;
pub mod operating;

use num_complex::Complex64;
use std::f64::consts::{PI, TAU};

/// Margins of one loop at one operating point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// True when the closed loop is stable.
    pub stable: bool,
    /// Factor on the loop's gain that brings it to its limit; infinite when no factor does. Below 1 for an unstable loop: what
    /// it would have to be multiplied by.
    pub gain_margin: f64,
    /// Frequency of that limit, rad/s; `NaN` when there is none. The loop would oscillate with it.
    pub limit_rad_s: f64,
    /// Phase margin, radians; infinite when the loop's gain never reaches 1, negative for an unstable loop.
    pub phase_margin: f64,
    /// Frequency where the loop's gain falls to 1, rad/s; `NaN` when it never reaches 1.
    pub crossover_rad_s: f64,
    /// Maximum sensitivity `Ms`; infinite for an unstable loop, whose sensitivity has no meaning.
    pub sensitivity_max: f64,
    /// Frequency of the maximum sensitivity, rad/s.
    pub sensitivity_rad_s: f64,
    /// Largest response to the set point, `Mt`; infinite for an unstable loop.
    pub complementary_max: f64,
    /// Dead time that may be added, seconds; 0 for an unstable loop, infinite when the loop's gain never reaches 1.
    pub delay_margin_s: f64,
}

/// Points of the first grid a decade.
const POINTS_PER_DECADE: f64 = 60.0;
/// Turn of `L` or of `1 + L` between two points that is still followed without a point between, radians.
const LARGEST_TURN: f64 = 0.15;
/// Below this loop gain no figure is decided, and turns are of no interest.
const NEGLIGIBLE_GAIN: f64 = 1e-3;
/// Angle that counts as none for a response that ends on the real axis, radians.
const REAL: f64 = 1e-9;
/// Loop gain that counts as none at all.
const SILENT: f64 = 1e-9;
/// Halvings of an interval: more would be below the rounding of the frequency.
const HALVINGS: u32 = 30;

impl Margins {
    /// Margins of the loop with the frequency response `of`, looked at from `from` to `to` rad/s.
    ///
    /// `integrators` is the number of poles of the loop at 0 frequency, which the response leaves out of the contour; all
    /// other poles of the open loop must be stable. `from` lies well below, `to` well above everything that the loop does; for a
    /// sampled loop `to` is half the sampling frequency.
    #[must_use]
    pub fn of(of: &dyn Fn(f64) -> Complex64, from: f64, to: f64, integrators: u32) -> Self {
        let points = follow(of, from, to);
        // a plant that does not answer leaves an open loop, whose integrator is no instability of the plant's
        let silent = points.iter().all(|(_, l)| l.norm() < SILENT);
        let stable = silent || encircles_nothing(&points, integrators);

        let mut gain = (f64::INFINITY, f64::NAN);
        let mut phase = (f64::INFINITY, f64::NAN);
        let mut delay = f64::INFINITY;
        for pair in points.windows(2) {
            let [(w0, l0), (w1, l1)] = [pair[0], pair[1]];
            if l0.im.signum() != l1.im.signum() && l0.re + l1.re < 0.0 {
                let w = root(w0, w1, &|w| of(w).im);
                let factor = 1.0 / of(w).norm();
                // a stable loop's margin is the nearest factor above 1; an unstable loop's the largest cut
                let nearer = if stable {
                    factor > 1.0 && factor < gain.0
                } else {
                    factor < gain.0
                };
                if nearer {
                    gain = (factor, w);
                }
            }
            if (l0.norm() - 1.0).signum() != (l1.norm() - 1.0).signum() {
                let w = root(w0, w1, &|w| of(w).norm() - 1.0);
                let margin = wrap(of(w).arg() + PI);
                if phase.1.is_nan() || margin < phase.0 {
                    phase = (margin, w);
                }
                delay = delay.min(margin.rem_euclid(TAU) / w);
            }
        }
        // at half the sampling frequency a sampled loop's response is real: it may end on the negative axis
        let &(w, last) = points.last().expect("at least two points");
        let factor = 1.0 / last.norm();
        let counts = if stable { factor > 1.0 } else { true };
        if last.im.abs() <= REAL * last.norm() && last.re < 0.0 && counts && factor < gain.0 {
            gain = (factor, w);
        }
        let sensitivity = |w: f64| (1.0 + of(w)).norm().recip();
        let complementary = |w: f64| {
            let l = of(w);
            (l / (1.0 + l)).norm()
        };
        let (sensitivity_max, sensitivity_rad_s) = largest(&points, &sensitivity);
        let (complementary_max, _) = largest(&points, &complementary);
        let when_stable = |value: f64, otherwise: f64| if stable { value } else { otherwise };
        Self {
            stable,
            gain_margin: gain.0,
            limit_rad_s: gain.1,
            phase_margin: phase.0,
            crossover_rad_s: phase.1,
            sensitivity_max: when_stable(sensitivity_max, f64::INFINITY),
            sensitivity_rad_s,
            complementary_max: when_stable(complementary_max, f64::INFINITY),
            delay_margin_s: when_stable(delay, 0.0),
        }
    }

    /// Phase margin in degrees.
    #[must_use]
    pub fn phase_margin_degrees(&self) -> f64 {
        self.phase_margin.to_degrees()
    }

    /// Gain margin in decibels.
    #[must_use]
    pub fn gain_margin_db(&self) -> f64 {
        20.0 * self.gain_margin.log10()
    }

    /// Period that the loop oscillates with at its limit, seconds.
    #[must_use]
    pub fn limit_period_s(&self) -> f64 {
        TAU / self.limit_rad_s
    }
}

/// An angle in (-pi, pi].
fn wrap(angle: f64) -> f64 {
    let turned = angle.rem_euclid(TAU);
    if turned > PI { turned - TAU } else { turned }
}

/// The response at rising frequencies, dense enough that neither `L` nor `1 + L` turns much between two of them.
#[must_use]
pub fn follow(of: &dyn Fn(f64) -> Complex64, from: f64, to: f64) -> Vec<(f64, Complex64)> {
    let decades = (to / from).log10();
    let count = (decades * POINTS_PER_DECADE).ceil().max(2.0) as usize;
    let at = |k: usize| from * (to / from).powf(k as f64 / count as f64);
    let mut points = vec![(from, of(from))];
    for k in 1..=count {
        let next = (at(k), of(at(k)));
        between(
            of,
            *points.last().expect("starts with one"),
            next,
            HALVINGS,
            &mut points,
        );
    }
    points
}

/// Adds what lies between two points, then the second.
fn between(
    of: &dyn Fn(f64) -> Complex64,
    first: (f64, Complex64),
    second: (f64, Complex64),
    halvings: u32,
    points: &mut Vec<(f64, Complex64)>,
) {
    let turn = |a: Complex64, b: Complex64| (b / a).arg().abs();
    let (a, b) = (first.1, second.1);
    let matters = a.norm().max(b.norm()) > NEGLIGIBLE_GAIN;
    let turns = turn(a, b).max(turn(1.0 + a, 1.0 + b)) > LARGEST_TURN;
    if matters && turns && halvings > 0 {
        let w = (first.0 * second.0).sqrt();
        let middle = (w, of(w));
        between(of, first, middle, halvings - 1, points);
        between(of, middle, second, halvings - 1, points);
    } else {
        points.push(second);
    }
}

/// True when `1 + L` turns by just what its poles at 0 frequency make it turn: no closed-loop pole is unstable.
fn encircles_nothing(points: &[(f64, Complex64)], integrators: u32) -> bool {
    let turned: f64 = points
        .windows(2)
        .map(|pair| ((1.0 + pair[1].1) / (1.0 + pair[0].1)).arg())
        .sum();
    // at the last point 1 + L is all but real; what its angle lacks there is the response's own tail
    let unstable = (0.5 * PI * f64::from(integrators) - turned) / PI;
    unstable.round() <= 0.0
}

/// A zero between two frequencies at which the function has different signs.
fn root(mut low: f64, mut high: f64, of: &dyn Fn(f64) -> f64) -> f64 {
    let sign = of(low).signum();
    while high - low > 1e-13 * high {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if of(middle).signum() == sign {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The largest value and where it is, refined round the largest point by golden sections.
fn largest(points: &[(f64, Complex64)], of: &dyn Fn(f64) -> f64) -> (f64, f64) {
    let values: Vec<f64> = points.iter().map(|p| of(p.0)).collect();
    let at = (0..values.len())
        .max_by(|a, b| values[*a].total_cmp(&values[*b]))
        .expect("at least two points");
    let low = points[at.saturating_sub(1)].0;
    let high = points[(at + 1).min(points.len() - 1)].0;
    let (w, value) = golden(low, high, 1e-9, &|w| -of(w));
    if -value > values[at] {
        (-value, w)
    } else {
        (values[at], points[at].0)
    }
}

/// Least value of a function with one minimum between two places, by golden sections: (place, value).
///
/// `within` is the width at which it stops, as a share of the place itself.
pub(crate) fn golden(
    mut low: f64,
    mut high: f64,
    within: f64,
    of: &dyn Fn(f64) -> f64,
) -> (f64, f64) {
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut inner = [high - ratio * (high - low), low + ratio * (high - low)];
    let mut values = inner.map(of);
    while high - low > within * high.abs().max(low.abs()) {
        if values[0] <= values[1] {
            high = inner[1];
            inner = [high - ratio * (high - low), inner[0]];
            values = [of(inner[0]), values[0]];
        } else {
            low = inner[0];
            inner = [inner[1], low + ratio * (high - low)];
            values = [values[1], of(inner[1])];
        }
    }
    if values[0] <= values[1] {
        (inner[0], values[0])
    } else {
        (inner[1], values[1])
    }
}

#[cfg(test)]
mod tests;
