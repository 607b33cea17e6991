//! The model that tuning rules speak of: one or two lags, or an integrator, behind a dead time.

use std::f64::consts::PI;

use crate::margins::linear::Linear;

/// `slope / (s + 1/lag) / (second s + 1) exp(-dead_time s)`.
///
/// With a finite lag the static gain is `slope * lag`; with an infinite one the plant integrates. The initial slope is the
/// number that both kinds have, and the one that gains hang on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Model {
    /// Rate of change right after a step of the input, were there one lag only: output units a second and unit of input.
    pub slope: f64,
    /// Time constant, seconds; infinite for an integrating plant.
    pub lag_s: f64,
    /// Second, shorter time constant, seconds; 0 for none.
    pub second_s: f64,
    /// Dead time, seconds.
    pub dead_time_s: f64,
}

impl Model {
    /// First order plus dead time.
    #[must_use]
    pub fn first_order(gain: f64, lag_s: f64, dead_time_s: f64) -> Self {
        Self {
            slope: gain / lag_s,
            lag_s,
            second_s: 0.0,
            dead_time_s,
        }
    }

    /// Integrating plus dead time.
    #[must_use]
    pub fn integrating(slope: f64, dead_time_s: f64) -> Self {
        Self {
            slope,
            lag_s: f64::INFINITY,
            second_s: 0.0,
            dead_time_s,
        }
    }

    /// Static gain; infinite for an integrating plant.
    #[must_use]
    pub fn gain(&self) -> f64 {
        self.slope * self.lag_s
    }

    /// `slope * dead time`: what the output moves during one dead time (Ziegler and Nichols' `a`).
    #[must_use]
    pub fn a(&self) -> f64 {
        self.slope * self.dead_time_s
    }

    /// Dead time over lag; 0 for an integrating plant.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.dead_time_s / self.lag_s
    }

    /// In state space.
    #[must_use]
    pub fn linear(&self) -> Linear {
        let second: &[f64] = if self.second_s > 0.0 {
            &[self.second_s]
        } else {
            &[]
        };
        if self.lag_s.is_finite() {
            Linear::lags(
                self.gain(),
                &[&[self.lag_s], second].concat(),
                self.dead_time_s,
            )
        } else {
            Linear::integrating(self.slope, second, self.dead_time_s)
        }
    }

    /// Ultimate gain and ultimate period, seconds: the proportional gain at which the loop just oscillates, from the exact
    /// frequency response; `None` when no gain makes it oscillate.
    #[must_use]
    pub fn ultimate(&self) -> Option<(f64, f64)> {
        let phase = |w: f64| {
            let first = if self.lag_s.is_finite() {
                (w * self.lag_s).atan()
            } else {
                0.5 * PI
            };
            first + (w * self.second_s).atan() + w * self.dead_time_s
        };
        if self.dead_time_s <= 0.0 {
            return None; // one or two lags alone come near -180 degrees and never reach it
        }
        let (mut low, mut high) = (0.0, PI / self.dead_time_s);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if phase(middle) < PI {
                low = middle
            } else {
                high = middle
            }
        }
        let w = 0.5 * (low + high);
        let first = if self.lag_s.is_finite() {
            w.hypot(1.0 / self.lag_s)
        } else {
            w
        };
        let gain = self.slope / first / (w * self.second_s).hypot(1.0);
        Some((1.0 / gain, 2.0 * PI / w))
    }
}
