//! What the actuator does: motion, jitter, steps, starts.

use std::collections::VecDeque;

/// Samples that motion is averaged over at least.
const FEWEST: usize = 8;
/// Samples that it is averaged over at most.
const MOST: usize = 4096;

/// Travel of a duty, motion apart from noise.
///
/// A temperature cannot move faster than its sensor shows it. What the duty does more slowly than the sensor's time
/// constant is therefore motion: the duty averaged over that time (8 samples at least) travels, and its travel is
/// motion. What is left of the whole travel is jitter, the converter's noise and its steps passed on by the gains.
///
/// ```
/// use host_harness::simulate::metrics::Travel;
/// let mut travel = Travel::new(900.0, 900.0); // 0 to 1 and back
/// for duty in [0.0, 1.0, 0.0] {
///     travel.take(duty);
/// }
/// assert_eq!(travel.largest_step(), 1.0);
/// assert!((travel.motion_per_hour() + travel.jitter_per_hour() - 2.0 * 3600.0 / 2700.0).abs() < 1e-12);
/// ```
#[derive(Clone, Debug)]
pub struct Travel {
    period_s: f64,
    width: usize,
    window: VecDeque<f64>,
    sum: f64,
    mean: Option<f64>,
    last: Option<f64>,
    samples: u64,
    whole: f64,
    motion: f64,
    step: f64,
}

impl Travel {
    /// For samples this far apart and a sensor of this time constant, seconds.
    #[must_use]
    pub fn new(period_s: f64, sensor_lag_s: f64) -> Self {
        Self {
            period_s,
            width: ((sensor_lag_s / period_s).round() as usize).clamp(FEWEST, MOST),
            window: VecDeque::new(),
            sum: 0.0,
            mean: None,
            last: None,
            samples: 0,
            whole: 0.0,
            motion: 0.0,
            step: 0.0,
        }
    }

    /// The next sample's duty, share of full.
    pub fn take(&mut self, duty: f64) {
        self.samples += 1;
        if let Some(last) = self.last {
            let step = (duty - last).abs();
            self.whole += step;
            self.step = self.step.max(step);
        }
        self.last = Some(duty);
        self.window.push_back(duty);
        self.sum += duty;
        if self.window.len() > self.width {
            self.sum -= self.window.pop_front().unwrap_or(0.0);
        }
        if self.window.len() == self.width {
            let mean = self.sum / self.width as f64;
            if let Some(last) = self.mean {
                self.motion += (mean - last).abs();
            }
            self.mean = Some(mean);
        }
    }

    fn per_hour(&self, strokes: f64) -> f64 {
        strokes * 3600.0 / (self.samples.max(1) as f64 * self.period_s)
    }

    /// Motion, full strokes an hour.
    #[must_use]
    pub fn motion_per_hour(&self) -> f64 {
        self.per_hour(self.motion)
    }

    /// Jitter, full strokes an hour.
    #[must_use]
    pub fn jitter_per_hour(&self) -> f64 {
        self.per_hour((self.whole - self.motion).max(0.0))
    }

    /// Largest change from one sample to the next, share of full.
    #[must_use]
    pub fn largest_step(&self) -> f64 {
        self.step
    }
}

/// Starts of something that runs or stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Starts {
    runs: Option<bool>,
    /// Starts after the first: one from standing at power-on is no one's fault.
    pub again: u64,
    /// True once it has run.
    pub ever: bool,
    /// Samples in which it stood after it had run.
    pub stood: u64,
}

impl Starts {
    /// The next sample.
    pub fn take(&mut self, runs: bool) {
        if runs && self.runs == Some(false) && self.ever {
            self.again += 1;
        }
        self.stood += u64::from(!runs && self.ever);
        self.ever |= runs;
        self.runs = Some(runs);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Two strokes an hour as a slow wave, with and without noise of 1 % a sample on it.
    #[test]
    fn motion_and_jitter_are_told_apart() {
        let run = |jitter: f64| {
            let mut travel = Travel::new(0.5, 25.0);
            for k in 0..14_400_u32 {
                let slow = 0.5 + 0.25 * (TAU * f64::from(k) * 0.5 / 1800.0).sin();
                let quick = if k % 2 == 0 { jitter } else { -jitter };
                travel.take(slow + quick);
            }
            travel
        };
        let (calm, noisy) = (run(0.0), run(0.005));
        // four quarters of 0.25 in half an hour
        assert!(
            (calm.motion_per_hour() - 2.0).abs() < 0.02,
            "{}",
            calm.motion_per_hour()
        );
        assert!(calm.jitter_per_hour() < 0.02);
        assert!(
            (noisy.motion_per_hour() - 2.0).abs() < 0.02,
            "{}",
            noisy.motion_per_hour()
        );
        // 0.01 a sample, 7200 samples an hour
        assert!(
            (noisy.jitter_per_hour() - 70.0).abs() < 2.0,
            "{}",
            noisy.jitter_per_hour()
        );
        assert!((noisy.largest_step() - 0.01).abs() < 0.001);
    }

    #[test]
    fn a_start_counts_only_after_it_has_run() {
        let mut starts = Starts::default();
        [false, true, true, false, false, true, false, true]
            .into_iter()
            .for_each(|runs| starts.take(runs));
        assert_eq!((starts.again, starts.stood), (2, 3));
    }
}
