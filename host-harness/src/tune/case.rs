//! A plant that gains are tried on: its sampled loop, in frequency for the margins and in time for a load step.

use nalgebra::DVector;
use num_complex::Complex64;

use crate::margins::Margins;
use crate::margins::law::{OpenLoop, SampledLaw};
use crate::margins::linear::{Linear, Sampled};

/// One plant, sampled, with the way that a load takes into it.
#[derive(Clone, Debug)]
pub struct Case {
    open: OpenLoop,
    sampled: Sampled,
    /// What a unit of load adds to the state in a sample.
    load: DVector<f64>,
    sign: f64,
    /// `(z, plant)` at the frequencies of the quick look.
    grid: Vec<(Complex64, Complex64)>,
    integrators: u32,
    slowest_s: f64,
    dead_time_s: f64,
}

/// What a step of the load does to a loop, a unit of load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadStep {
    /// Integral of the absolute error, kelvin seconds (output units times seconds).
    pub absolute_error: f64,
    /// Largest error.
    pub peak: f64,
}

/// Points of the quick look a decade.
const POINTS_PER_DECADE: f64 = 120.0;
/// Share of the whole that a stretch of the response must add, or the rest is left out.
const NEGLIGIBLE: f64 = 1e-5;
/// Samples after which a response is cut off whatever it does.
const LONGEST: usize = 400_000;

impl Case {
    /// A plant whose load enters with its actuator: the textbook's load disturbance at the plant's input.
    #[must_use]
    pub fn at_input(plant: &Linear, period_s: f64) -> Self {
        Self::new(plant, &plant.b, period_s)
    }

    /// A plant whose load adds `load` to the rates of change of its state, a unit of load.
    ///
    /// # Panics
    ///
    /// When `load` is not as long as the plant's state.
    #[must_use]
    pub fn new(plant: &Linear, load: &DVector<f64>, period_s: f64) -> Self {
        let open = OpenLoop::new(plant, period_s);
        let prompt = Linear {
            b: load.clone(),
            dead_time_s: 0.0,
            ..plant.clone()
        };
        let (from, to) = open.range();
        let count = ((to / from).log10() * POINTS_PER_DECADE).ceil();
        let grid = (0..=count as usize)
            .map(|k| {
                let w = from * (to / from).powf(k as f64 / count);
                (Complex64::cis(w * period_s), open.plant_response(w))
            })
            .collect();
        let rates = plant.rates();
        let slowest = rates
            .iter()
            .copied()
            .filter(|r| *r > 1e-12)
            .fold(f64::INFINITY, f64::min);
        Self {
            sampled: plant.sampled(period_s),
            load: prompt.sampled(period_s).g0,
            sign: open.sign(),
            integrators: plant.integrators(),
            slowest_s: if slowest.is_finite() {
                1.0 / slowest
            } else {
                0.0
            },
            dead_time_s: plant.dead_time_s,
            open,
            grid,
        }
    }

    /// Sample period, seconds.
    #[must_use]
    pub fn period_s(&self) -> f64 {
        self.sampled.period_s
    }

    /// Dead time with half a sample, seconds: the shortest time in which anything can be done.
    #[must_use]
    pub fn reaction_s(&self) -> f64 {
        self.dead_time_s + 0.5 * self.period_s()
    }

    /// Slowest time constant, seconds; 0 for an integrating plant without lags.
    #[must_use]
    pub fn slowest_s(&self) -> f64 {
        self.slowest_s
    }

    /// A gain that no loop round this plant bears: four times the one that alone would move the reading by as much as the
    /// error in the time that the plant needs to answer.
    #[must_use]
    pub fn gain_ceiling(&self) -> f64 {
        // the least gain of the plant where its phase is beyond -180 degrees, as the grid has it
        let mut turned = 0.0;
        let mut before: Option<Complex64> = None;
        for (_, plant) in &self.grid {
            let p = self.sign * plant;
            turned = match before {
                None => p.arg(),
                Some(before) => turned + (p / before).arg(),
            };
            before = Some(p);
            if turned < -0.95 * std::f64::consts::PI {
                return 4.0 / p.norm();
            }
        }
        4.0 / before.map_or(1.0, |p| p.norm())
    }

    /// Margins, in full.
    #[must_use]
    pub fn margins(&self, law: &SampledLaw) -> Margins {
        self.open.margins(law)
    }

    /// Maximum sensitivity by a quick look at a fixed grid with a parabola through its peak; infinite when unstable.
    #[must_use]
    pub fn sensitivity(&self, law: &SampledLaw) -> f64 {
        let mut turned = 0.0;
        let mut before: Option<Complex64> = None;
        let mut nearest = [f64::INFINITY; 3];
        let mut last = [f64::INFINITY; 2];
        let mut wanted = false;
        for (z, plant) in &self.grid {
            let distance = 1.0 + self.sign * law.response(*z) * plant;
            if let Some(before) = before {
                turned += (distance / before).arg();
            }
            before = Some(distance);
            let square = distance.norm_sqr();
            if wanted {
                nearest[2] = square;
                wanted = false;
            }
            if square < nearest[1] {
                nearest = [last[1], square, f64::INFINITY];
                wanted = true;
            }
            last = [last[1], square];
        }
        let integrators = self.integrators + u32::from(law.ki != 0.0);
        let half_turns =
            (0.5 * std::f64::consts::PI * f64::from(integrators) - turned) / std::f64::consts::PI;
        if half_turns.round() > 0.0 {
            return f64::INFINITY;
        }
        let [a, b, c] = nearest;
        let bend = a - 2.0 * b + c;
        let least = if bend.is_finite() && bend > 0.0 {
            b - 0.125 * (a - c) * (a - c) / bend
        } else {
            b
        };
        least.max(1e-12).sqrt().recip()
    }

    /// The response to a lasting unit of load, sample by sample, in the shipped law's order of work; the loop must be stable.
    #[must_use]
    pub fn load_step(&self, law: &SampledLaw) -> LoadStep {
        let n = self.load.len();
        let f: Vec<f64> = (0..n * n).map(|k| self.sampled.f[(k / n, k % n)]).collect();
        let (g0, g1) = (self.sampled.g0.as_slice(), self.sampled.g1.as_slice());
        let c = self.sampled.c.as_slice();
        let depth = self.sampled.whole + 2;
        let mut sent = vec![0.0; depth];
        let (mut x, mut next) = (vec![0.0; n], vec![0.0; n]);
        let (mut integral, mut filtered) = (0.0, 0.0);
        let share = 1.0 / f64::from(1u32 << law.filter_exponent);
        let stretch = ((8.0 * self.reaction_s() + 0.5 * self.slowest_s) / self.period_s())
            .ceil()
            .max(50.0) as usize;
        let (mut sum, mut part, mut peak) = (0.0, 0.0, 0.0_f64);
        for k in 0..LONGEST {
            let y: f64 = c.iter().zip(&x).map(|(c, x)| c * x).sum();
            part += y.abs();
            peak = peak.max(y.abs());
            let e = -self.sign * y;
            let g = y - filtered;
            let u = law.kp * e + integral - self.sign * law.kd * g;
            integral += law.ki * e;
            filtered += share * g;
            sent[k % depth] = u;
            let (newer, older) = (
                sent[(k + depth - self.sampled.whole) % depth],
                sent[(k + depth - self.sampled.whole - 1) % depth],
            );
            for row in 0..n {
                let own: f64 = f[row * n..(row + 1) * n]
                    .iter()
                    .zip(&x)
                    .map(|(f, x)| f * x)
                    .sum();
                next[row] = own + g0[row] * newer + g1[row] * older + self.load[row];
            }
            std::mem::swap(&mut x, &mut next);
            if (k + 1) % stretch == 0 {
                sum += part;
                if part <= NEGLIGIBLE * sum || !sum.is_finite() {
                    break;
                }
                part = 0.0;
            }
        }
        LoadStep {
            absolute_error: sum * self.period_s(),
            peak,
        }
    }
}
