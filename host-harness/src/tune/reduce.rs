//! The half rule: a plant of many lags and zeros as a model of one or two lags and dead time.
//!
//! Source: S. Skogestad, Simple analytic rules for model reduction and PID controller tuning, J. Process Control 13 (2003)
//! 291-309, section 2. The largest neglected lag is shared in halves between the dead time and the smallest lag kept; smaller
//! lags, right-half-plane zeros and half a sample period go into the dead time; a left-half-plane zero is taken against a
//! neighbouring lag first (his rules T1 to T3).

use super::model::Model;
use crate::margins::linear::Linear;

/// `gain * product(zeros[i] s + 1) / product(lags[i] s + 1) exp(-dead_time s)`; an infinite lag is an integrator, and `gain` is
/// then the slope.
#[derive(Clone, Debug, PartialEq)]
pub struct Factors {
    /// Static gain, or slope of an integrating plant.
    pub gain: f64,
    /// Time constants, seconds.
    pub lags: Vec<f64>,
    /// Time constants of the numerator, seconds; negative for zeros in the right half plane.
    pub zeros: Vec<f64>,
    /// Dead time, seconds.
    pub dead_time_s: f64,
}

/// A zero this much below a lag at most counts as near enough to be taken against a smaller one (Skogestad 2003).
const NEAR: f64 = 1.6;

impl Factors {
    /// Poles and zeros of a linear plant; `None` when one of them is complex or unstable, or the plant integrates.
    #[must_use]
    pub fn of(plant: &Linear) -> Option<Self> {
        let n = plant.b.len();
        let poles = plant.a.clone().complex_eigenvalues();
        let fastest = poles.iter().map(|p| p.re.hypot(p.im)).fold(0.0, f64::max);
        let real = |z: &nalgebra::Complex<f64>| z.im.abs() <= 1e-6 * z.re.abs();
        if poles.iter().any(|p| !real(p) || p.re >= -1e-12 * fastest) {
            return None;
        }
        // c A^(r-1) b is the first that does not vanish; the zeros are the eigenvalues of A - b c A^r / (c A^(r-1) b) but r at 0
        let scale = plant.c.norm() * plant.b.norm();
        let mut row = plant.c.transpose();
        let mut first = 0.0;
        let mut degree = 0;
        while degree < n {
            first = (&row * &plant.b)[(0, 0)];
            degree += 1;
            row *= &plant.a;
            if first.abs() > 1e-9 * scale * fastest.powi(degree as i32 - 1) {
                break;
            }
        }
        if first == 0.0 {
            return None;
        }
        let inverse = &plant.a - &plant.b * row / first;
        let mut found: Vec<_> = inverse.complex_eigenvalues().iter().copied().collect();
        found.sort_by(|a, b| a.norm_sqr().total_cmp(&b.norm_sqr()));
        let zeros = &found[degree..];
        if zeros
            .iter()
            .any(|z| !real(z) && z.re.hypot(z.im) < 10.0 * fastest)
        {
            return None;
        }
        Some(Self {
            gain: plant.gain(),
            lags: poles.iter().map(|p| -1.0 / p.re).collect(),
            zeros: zeros
                .iter()
                .filter(|z| real(z))
                .map(|z| -1.0 / z.re)
                .collect(),
            dead_time_s: plant.dead_time_s,
        })
    }

    /// The model with one lag, or with two, for a loop sampled with `period_s` (0 for a continuous one).
    #[must_use]
    pub fn reduce(&self, two: bool, period_s: f64) -> Model {
        // the rules for zeros look at the dead time that comes out in the end
        let mut model = self.reduce_for(two, period_s, self.dead_time_s);
        for _ in 0..20 {
            let next = self.reduce_for(two, period_s, model.dead_time_s);
            if next == model {
                break;
            }
            model = next;
        }
        model
    }

    fn reduce_for(&self, two: bool, period_s: f64, dead: f64) -> Model {
        let mut gain = self.gain;
        let mut lags = self.lags.clone();
        lags.sort_by(|a, b| b.total_cmp(a));
        let mut delay = self.dead_time_s + 0.5 * period_s;
        let mut zeros: Vec<f64> = Vec::new();
        for zero in &self.zeros {
            if *zero < 0.0 {
                delay -= zero
            } else {
                zeros.push(*zero)
            }
        }
        zeros.sort_by(|a, b| b.total_cmp(a));
        for zero in zeros {
            let larger = lags.iter().rposition(|lag| *lag >= zero);
            let smaller = lags.iter().position(|lag| *lag < zero);
            let at = match (larger, smaller) {
                (Some(_), Some(below)) if zero / lags[below] < NEAR * (1.0 - 1e-9) => below,
                (Some(above), _) => above,
                (None, Some(below)) => below,
                (None, None) => break,
            };
            let lag = lags.remove(at);
            if zero >= lag {
                // T1, T1a, T1b
                gain *= if lag >= dead {
                    zero / lag
                } else if zero >= dead {
                    zero / dead
                } else {
                    1.0
                };
            } else if zero >= 5.0 * dead {
                gain *= zero / lag; // T2; an integrator taken away leaves the slope as gain
                if lag.is_infinite() {
                    gain = self.gain * zero;
                }
            } else {
                // T3
                let near = lag.min(5.0 * dead);
                gain *= if lag.is_finite() { near / lag } else { near };
                lags.push(near - zero);
                lags.sort_by(|a, b| b.total_cmp(a));
            }
        }
        let lag = |at: usize| lags.get(at).copied().unwrap_or(0.0);
        let kept = if two { 2 } else { 1 };
        let half = 0.5 * lag(kept);
        delay += half + lags.iter().skip(kept + 1).sum::<f64>();
        let mut kept: Vec<f64> = (0..kept).map(lag).collect();
        if let Some(last) = kept.last_mut() {
            *last += half;
        }
        kept.sort_by(|a, b| b.total_cmp(a));
        let first = kept[0].max(f64::MIN_POSITIVE);
        Model {
            slope: if first.is_finite() {
                gain / first
            } else {
                gain
            },
            lag_s: first,
            second_s: kept.get(1).copied().unwrap_or(0.0),
            dead_time_s: delay,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn poles_and_zeros_of_a_plant_with_known_ones() {
        // (3 s + 1)(-0.5 s + 1) / ((10 s + 1)(2 s + 1)(0.7 s + 1)) as a sum of its three lags
        let lags = [10.0, 2.0, 0.7];
        let zeros = [3.0, -0.5];
        let mut plant = Linear::lags(1.0, &[1.0, 1.0, 1.0], 0.4);
        for (at, own) in lags.iter().enumerate() {
            // residue of the partial fraction at s = -1/own
            let s = -1.0 / own;
            let top: f64 = zeros.iter().map(|z| z * s + 1.0).product();
            let bottom: f64 = lags
                .iter()
                .filter(|l| *l != own)
                .map(|l| l * s + 1.0)
                .product();
            plant.a.row_mut(at).fill(0.0);
            plant.a[(at, at)] = s;
            plant.b[at] = top / bottom / own;
            plant.c[at] = 1.0;
        }
        let factors = Factors::of(&plant).expect("all real");
        let mut found = factors.zeros.clone();
        found.sort_by(f64::total_cmp);
        assert!((factors.gain - 1.0).abs() < 1e-12);
        assert!(
            (found[0] + 0.5).abs() < 1e-9 && (found[1] - 3.0).abs() < 1e-9,
            "{found:?}"
        );
        let mut found = factors.lags.clone();
        found.sort_by(f64::total_cmp);
        assert!(
            (found[0] - 0.7).abs() < 1e-9 && (found[2] - 10.0).abs() < 1e-9,
            "{found:?}"
        );
    }

    #[test]
    fn half_a_sample_goes_into_the_dead_time() {
        let plant = Factors {
            gain: 2.0,
            lags: vec![10.0, 2.0],
            zeros: vec![],
            dead_time_s: 1.0,
        };
        let model = plant.reduce(false, 0.5);
        assert_eq!((model.dead_time_s, model.lag_s), (1.0 + 1.0 + 0.25, 11.0));
        assert!((model.gain() - 2.0).abs() < 1e-12);
    }
}
