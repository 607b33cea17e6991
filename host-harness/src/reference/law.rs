//! The control law in real arithmetic: what the integers are measured against.

/// Real-arithmetic meaning of the shipped law.
///
/// e = measurement - set point for cooling, its negative for heating; g = measurement - filtered
/// measurement (same sign rule); u = clamp(kp e + kd g + I, low, high); then I = clamp(I + ki e, low, high)
/// and the filter moves by g / 2^k. All gains per sample, outputs as a fraction of full duty.
#[derive(Clone, Debug)]
pub struct RealLaw {
    /// Proportional gain, duty per kelvin.
    pub kp: f64,
    /// Integral gain, duty per kelvin and sample.
    pub ki: f64,
    /// Derivative gain, duty per kelvin of filtered difference.
    pub kd: f64,
    /// The filter's time constant is this many samples.
    pub filter_samples: f64,
    /// Lower limit of output and integrator.
    pub low: f64,
    /// Upper limit of output and integrator.
    pub high: f64,
    /// True for cooling (direct action).
    pub cooling: bool,
    /// The integrator.
    pub integrator: f64,
    /// The filtered measurement, once a sample has been seen.
    pub filtered: Option<f64>,
}

/// The terms of one step of [`RealLaw`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RealTerms {
    /// Proportional term, fraction of full duty.
    pub p: f64,
    /// Integral term.
    pub i: f64,
    /// Derivative term.
    pub d: f64,
    /// Output after the limits.
    pub demand: f64,
}

impl RealLaw {
    /// Absorbs a set-point change without a bump: the integrator takes what P would otherwise jump by.
    pub fn change_set_point(&mut self, old: f64, new: f64) {
        let sign = if self.cooling { 1.0 } else { -1.0 };
        self.integrator =
            (self.integrator + sign * self.kp * (new - old)).clamp(self.low, self.high);
    }

    /// One sample: measurement in, demand out.
    pub fn step(&mut self, set_point: f64, measurement: f64) -> RealTerms {
        let sign = if self.cooling { 1.0 } else { -1.0 };
        let filtered = self.filtered.unwrap_or(measurement);
        let e = sign * (measurement - set_point);
        let g = measurement - filtered;
        let (p, d, i) = (self.kp * e, self.kd * sign * g, self.integrator);
        let demand = (p + i + d).clamp(self.low, self.high);
        self.integrator = (i + self.ki * e).clamp(self.low, self.high);
        self.filtered = Some(filtered + g / self.filter_samples);
        RealTerms { p, i, d, demand }
    }
}

/// The textbook algorithm with back-calculation, as in Astrom and Murray, Feedback Systems (2008),
/// section 10.5: P = kp (b r - y), D filtered with Tf, I advanced after the output is sent.
#[derive(Clone, Debug)]
pub struct TextbookPid {
    /// Proportional gain.
    pub kp: f64,
    /// Integral gain, per second.
    pub ki: f64,
    /// Derivative gain, seconds.
    pub kd: f64,
    /// Derivative filter time, seconds.
    pub tf: f64,
    /// Sample period, seconds.
    pub h: f64,
    /// Set-point weight.
    pub b: f64,
    /// Tracking time, seconds; infinite for none.
    pub tt: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Integrator.
    pub i: f64,
    /// Derivative term.
    pub d: f64,
    /// Previous measurement.
    pub y: f64,
}

impl TextbookPid {
    /// One sample; returns (P, I, D, v, u) with I as used for this output.
    pub fn step(&mut self, r: f64, y: f64, manual: Option<f64>) -> [f64; 5] {
        let p = self.kp * (self.b * r - y);
        if self.tf + self.h > 0.0 && self.kd != 0.0 {
            self.d =
                self.tf / (self.tf + self.h) * self.d - self.kd / (self.tf + self.h) * (y - self.y);
        }
        self.y = y;
        let v = p + self.i + self.d;
        let u = manual.unwrap_or_else(|| v.clamp(self.low, self.high));
        let row = [p, self.i, self.d, v, u];
        self.i += self.ki * self.h * (r - y);
        if self.tt.is_finite() {
            self.i += self.h / self.tt * (u - v);
        }
        row
    }
}
