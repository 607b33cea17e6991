//! A linear plant in state space with dead time, continuous and sampled.
//!
//! `dx/dt = A x + B u(t - L)`, `y = C x`. Sampled with period `h` under an input that stands still between samples
//! (zero-order hold), with `L = d h + l`, `0 <= l < h`:
//!
//! `x[k+1] = F x[k] + G0 u[k-d] + G1 u[k-d-1]`,
//! `F = exp(A h)`, `G0 = integral of exp(A s) B over 0..h-l`, `G1 = exp(A (h-l)) integral of exp(A s) B over 0..l`.
//!
//! Source: K. J. Astrom, B. Wittenmark, Computer-Controlled Systems (3rd ed., 1997), sections 2.3 (sampling) and 2.4 (dead time).

use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;

/// A continuous linear plant round one operating point. Units are the caller's: here kelvin of reading a share of duty.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// `A`, 1/s.
    pub a: DMatrix<f64>,
    /// `B`.
    pub b: DVector<f64>,
    /// `C`.
    pub c: DVector<f64>,
    /// Dead time, seconds.
    pub dead_time_s: f64,
}

impl Linear {
    /// `gain / ((lags[0] s + 1) (lags[1] s + 1) ...) exp(-dead_time s)`, lags in seconds.
    #[must_use]
    pub fn lags(gain: f64, lags: &[f64], dead_time_s: f64) -> Self {
        let n = lags.len();
        let mut a = DMatrix::zeros(n, n);
        let mut b = DVector::zeros(n);
        let mut c = DVector::zeros(n);
        for (at, lag) in lags.iter().enumerate() {
            a[(at, at)] = -1.0 / lag;
            if at == 0 {
                b[0] = gain / lag;
            } else {
                a[(at, at - 1)] = 1.0 / lag;
            }
        }
        if n > 0 {
            c[n - 1] = 1.0;
        }
        Self {
            a,
            b,
            c,
            dead_time_s,
        }
    }

    /// `slope / (s (lags[0] s + 1) ...) exp(-dead_time s)`: it never comes to rest. `slope` is the rate of change a unit of input.
    #[must_use]
    pub fn integrating(slope: f64, lags: &[f64], dead_time_s: f64) -> Self {
        let inner = Self::lags(slope, lags, dead_time_s);
        let n = lags.len() + 1;
        let mut a = DMatrix::zeros(n, n);
        let mut b = DVector::zeros(n);
        let mut c = DVector::zeros(n);
        a.view_mut((0, 0), (n - 1, n - 1)).copy_from(&inner.a);
        if n == 1 {
            b[0] = slope;
        } else {
            b.rows_mut(0, n - 1).copy_from(&inner.b);
            a[(n - 1, n - 2)] = 1.0;
        }
        c[n - 1] = 1.0;
        Self {
            a,
            b,
            c,
            dead_time_s,
        }
    }

    /// Number of poles at 0: poles slower than `1e-12` of the fastest count as such.
    #[must_use]
    pub fn integrators(&self) -> u32 {
        let rates: Vec<f64> = self.rates();
        let fastest = rates.iter().copied().fold(0.0, f64::max);
        rates.iter().filter(|r| **r <= 1e-12 * fastest).count() as u32
            + u32::from(fastest == 0.0 && rates.is_empty())
    }

    /// Absolute values of the poles, 1/s.
    #[must_use]
    pub fn rates(&self) -> Vec<f64> {
        self.a
            .clone()
            .complex_eigenvalues()
            .iter()
            .map(|p| p.re.hypot(p.im))
            .collect()
    }

    /// `C (j w I - A)^-1 B exp(-j w L)`.
    ///
    /// # Panics
    ///
    /// When `w` is a pole on the imaginary axis, such as 0 for an integrating plant.
    #[must_use]
    pub fn response(&self, w: f64) -> Complex64 {
        let s = Complex64::new(0.0, w);
        solve(&self.a, &self.b.map(Complex64::from), &self.c, s) * (-s * self.dead_time_s).exp()
    }

    /// Steady output a unit of steady input; infinite for an integrating plant.
    #[must_use]
    pub fn gain(&self) -> f64 {
        match self.a.clone().lu().solve(&self.b) {
            Some(x) => -self.c.dot(&x),
            None => f64::INFINITY,
        }
    }

    /// The plant sampled with `period_s` under a zero-order hold.
    #[must_use]
    pub fn sampled(&self, period_s: f64) -> Sampled {
        // a dead time that is whole samples but for its rounding is whole samples
        let samples = self.dead_time_s / period_s;
        let whole = if (samples - samples.round()).abs() < 1e-9 {
            samples.round()
        } else {
            samples.floor()
        };
        let part = (self.dead_time_s - whole * period_s).max(0.0);
        let (rest_f, rest_g) = self.held(period_s - part);
        let (part_f, part_g) = self.held(part);
        Sampled {
            f: &rest_f * part_f,
            g0: rest_g,
            g1: rest_f * part_g,
            c: self.c.clone(),
            whole: whole as usize,
            period_s,
        }
    }

    /// `exp(A t)` and the integral of `exp(A s) B` over `0..t`, both from the exponential of one matrix (Van Loan 1978).
    fn held(&self, t: f64) -> (DMatrix<f64>, DVector<f64>) {
        let n = self.b.len();
        let mut m = DMatrix::zeros(n + 1, n + 1);
        m.view_mut((0, 0), (n, n)).copy_from(&(&self.a * t));
        m.view_mut((0, n), (n, 1)).copy_from(&(&self.b * t));
        let e = m.exp();
        (
            e.view((0, 0), (n, n)).into_owned(),
            e.view((0, n), (n, 1)).column(0).into_owned(),
        )
    }
}

/// A plant between samples under an input that stands still: see the module's head.
#[derive(Clone, Debug, PartialEq)]
pub struct Sampled {
    /// `F`.
    pub f: DMatrix<f64>,
    /// `G0`, for the input of `whole` samples ago.
    pub g0: DVector<f64>,
    /// `G1`, for the input one sample older.
    pub g1: DVector<f64>,
    /// `C`.
    pub c: DVector<f64>,
    /// Whole samples of dead time.
    pub whole: usize,
    /// Sample period, seconds.
    pub period_s: f64,
}

impl Sampled {
    /// `C (z I - F)^-1 (G0 + G1 / z) / z^whole` at `z = exp(j w h)`.
    #[must_use]
    pub fn response(&self, w: f64) -> Complex64 {
        let angle = w * self.period_s;
        let z = Complex64::cis(angle);
        let drive = self.g0.zip_map(&self.g1, |g0, g1| g0 + g1 / z);
        solve(&self.f, &drive, &self.c, z) * Complex64::cis(-angle * self.whole as f64)
    }
}

/// `c (s I - m)^-1 drive`.
fn solve(
    m: &DMatrix<f64>,
    drive: &DVector<Complex64>,
    c: &DVector<f64>,
    s: Complex64,
) -> Complex64 {
    let n = drive.len();
    let matrix = DMatrix::from_fn(n, n, |row, column| {
        let own = if row == column { s } else { Complex64::ZERO };
        own - m[(row, column)]
    });
    let x = matrix.lu().solve(drive).expect("not a pole");
    c.iter().zip(x.iter()).map(|(c, x)| *c * *x).sum()
}
