//! The frequency response of the shipped law, and of the loop that it closes.
//!
//! As the law computes it, a sample at a time: the integrator moves after the output was sent, the derivative acts on the
//! measurement less its filter of `2^K` samples. With `z = exp(j w h)` and gains a sample
//!
//! `C(z) = kp + ki / (z - 1) + kd (z - 1) / (z - 1 + 2^-K)`
//!
//! `kp` in duty a kelvin, `ki` in duty a kelvin and sample, `kd` in duty a kelvin of `measurement - filtered`. It is the transform
//! of `reference::law::RealLaw` inside its limits (Astrom and Wittenmark, Computer-Controlled Systems (1997), section 2.6,
//! pulse-transfer operator); a test steps that law with sines and compares.

use num_complex::Complex64;

use super::Margins;
use super::linear::{Linear, Sampled};

/// Gains a sample, and the derivative's filter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SampledLaw {
    /// Duty a kelvin.
    pub kp: f64,
    /// Duty a kelvin and sample.
    pub ki: f64,
    /// Duty a kelvin of `measurement - filtered`.
    pub kd: f64,
    /// `K`: the filter's time constant is `2^K` samples.
    pub filter_exponent: u32,
}

impl SampledLaw {
    /// From gains in time: duty a kelvin, duty a kelvin and second, duty times seconds a kelvin.
    #[must_use]
    pub fn of_times(kp: f64, ki_s: f64, kd_s: f64, filter_exponent: u32, period_s: f64) -> Self {
        Self {
            kp,
            ki: ki_s * period_s,
            kd: kd_s / (period_s * f64::from(1u32 << filter_exponent)),
            filter_exponent,
        }
    }

    /// `C` at `z`.
    #[must_use]
    pub fn response(&self, z: Complex64) -> Complex64 {
        let forward = z - 1.0;
        let share = 1.0 / f64::from(1u32 << self.filter_exponent);
        let integral = if self.ki == 0.0 {
            Complex64::ZERO
        } else {
            self.ki / forward
        };
        self.kp + integral + self.kd * forward / (forward + share)
    }

    /// Standard deviation of the duty that white noise of one unit on the reading makes.
    ///
    /// Proportional and derivative action pass the newest reading with `kp + kd`; the filter forgets with `1 - 2^-K`. The
    /// integral's share is left out: inside a closed loop it is what the plant follows, not what is heard.
    #[must_use]
    pub fn noise_gain(&self) -> f64 {
        // impulse response of (z - 1)/(z - 1 + a): 1, then -a (1 - a)^(j - 1); its squares after the first sum to a / (2 - a)
        let a = 1.0 / f64::from(1u32 << self.filter_exponent);
        ((self.kp + self.kd).powi(2) + self.kd.powi(2) * a / (2.0 - a)).sqrt()
    }

    /// Standard deviation of the change of duty from one sample to the next that white noise of one unit makes: what is heard.
    #[must_use]
    pub fn noise_step(&self) -> f64 {
        // (1 - z^-1) (kp + kd (z - 1)/(z - 1 + a)): impulses kp + kd, -(kp + kd) - kd a, then kd a^2 (1 - a)^(j - 2)
        let a = 1.0 / f64::from(1u32 << self.filter_exponent);
        let (first, second) = (self.kp + self.kd, self.kp + self.kd * (1.0 + a));
        let rest = (self.kd * a * a).powi(2) / (1.0 - (1.0 - a).powi(2));
        (first * first + second * second + rest).sqrt()
    }
}

/// Law and plant, opened between them.
#[derive(Clone, Debug)]
pub struct OpenLoop {
    plant: Sampled,
    from_rad_s: f64,
    integrators: u32,
    /// +1 when more duty raises the reading, -1 when it lowers it: the law acts against either.
    sign: f64,
}

/// Share of the slowest pole from which a loop is looked at, and least share of the sampling frequency.
const FROM_POLES: f64 = 1e-3;

impl OpenLoop {
    /// The plant sampled with `period_s`. Its gain may have either sign: the law's action is taken to match it.
    #[must_use]
    pub fn new(plant: &Linear, period_s: f64) -> Self {
        let rates = plant.rates();
        let fastest = rates.iter().copied().fold(0.0, f64::max);
        let slowest = rates
            .iter()
            .copied()
            .filter(|r| *r > 1e-12 * fastest)
            .fold(f64::INFINITY, f64::min);
        let slowest = slowest.min(1.0 / (plant.dead_time_s + period_s));
        let sampled = plant.sampled(period_s);
        let from_rad_s = FROM_POLES * slowest;
        // whichever way the plant goes in the end; for an integrating plant low frequencies tell: L = slope / (j w)
        let low = plant.response(from_rad_s);
        let integrators = plant.integrators();
        let sign = if integrators == 0 { low.re } else { -low.im }.signum();
        Self {
            plant: sampled,
            from_rad_s,
            integrators,
            sign,
        }
    }

    /// Sample period, seconds.
    #[must_use]
    pub fn period_s(&self) -> f64 {
        self.plant.period_s
    }

    /// Frequencies that matter: from well below everything the plant does to half the sampling frequency, rad/s.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.from_rad_s, std::f64::consts::PI / self.plant.period_s)
    }

    /// The loop with this law.
    #[must_use]
    pub fn response(&self, law: &SampledLaw, w: f64) -> Complex64 {
        let z = Complex64::cis(w * self.plant.period_s);
        self.sign * law.response(z) * self.plant.response(w)
    }

    /// The sampled plant alone.
    #[must_use]
    pub fn plant_response(&self, w: f64) -> Complex64 {
        self.plant.response(w)
    }

    /// +1 when more duty raises the reading, -1 when it lowers it.
    #[must_use]
    pub fn sign(&self) -> f64 {
        self.sign
    }

    /// Its margins.
    #[must_use]
    pub fn margins(&self, law: &SampledLaw) -> Margins {
        let (from, to) = self.range();
        // integral action slower than the plant moves what matters downwards
        let ratio = if law.kp > 0.0 {
            law.ki / (law.kp * self.plant.period_s)
        } else {
            f64::INFINITY
        };
        let from = from.min(if ratio > 0.0 { 1e-2 * ratio } else { from });
        let integrators = self.integrators + u32::from(law.ki != 0.0);
        Margins::of(&|w| self.response(law, w), from, to, integrators)
    }
}
