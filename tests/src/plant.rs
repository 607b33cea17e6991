//! Linear plants for checks of sampled laws: stepped exactly over a sample in which the input stands still, so that
//! what a check differs by is due to sampling alone.

use std::collections::VecDeque;

/// What the plant is made of, besides its dead time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// `gain / (tau s + 1)^order`; order 0 is the gain alone.
    Lags {
        /// Number of lags.
        order: usize,
        /// Time constant of each.
        tau: f64,
        /// Static gain.
        gain: f64,
    },
    /// `1 / s`.
    Integrator,
}

/// A plant at work.
#[derive(Clone, Debug)]
pub struct Plant {
    kind: Kind,
    period: f64,
    states: Vec<f64>,
    delay: VecDeque<f64>,
}

impl Plant {
    /// A plant at rest at the output `start`, stepped by `period`, with a dead time of so many samples.
    #[must_use]
    pub fn new(kind: Kind, dead_samples: usize, period: f64, start: f64) -> Self {
        let (order, input) = match kind {
            Kind::Lags { order, gain, .. } => (order, start / gain),
            Kind::Integrator => (1, 0.0),
        };
        Self {
            kind,
            period,
            states: vec![start; order],
            delay: std::iter::repeat_n(input, dead_samples).collect(),
        }
    }

    /// The output now.
    #[must_use]
    pub fn output(&self) -> f64 {
        match (self.kind, self.states.last()) {
            (Kind::Lags { gain, .. }, None) => self.delay.front().map_or(0.0, |u| gain * u),
            (_, last) => last.copied().unwrap_or(0.0),
        }
    }

    /// One sample under this input.
    pub fn step(&mut self, input: f64) {
        self.delay.push_back(input);
        let arrived = self.delay.pop_front().unwrap_or(input);
        match self.kind {
            Kind::Integrator => {
                for state in &mut self.states {
                    *state += self.period * arrived;
                }
            }
            Kind::Lags { tau, gain, .. } => {
                let (ratio, rest) = (self.period / tau, gain * arrived);
                // Deviations from rest follow exp(-t/tau) times a polynomial: the lags are a Jordan chain.
                let from: Vec<f64> = self.states.iter().map(|x| x - rest).collect();
                for (at, state) in self.states.iter_mut().enumerate() {
                    let mut weight = (-ratio).exp();
                    let mut sum = 0.0;
                    for back in 0..=at {
                        sum += weight * from[at - back];
                        weight *= ratio / (back + 1) as f64;
                    }
                    *state = rest + sum;
                }
            }
        }
    }
}
