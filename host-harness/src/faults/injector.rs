//! The stages at which a fault reaches into the pipeline.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::catalogue::{Fault, Trial};

/// One fault at one time, as stages of the pipeline: each passes on what it is given unless the fault acts
/// there and now.
#[derive(Clone, Debug)]
pub struct Injector {
    fault: Fault,
    from_s: f64,
    until_s: f64,
    first_code: Option<u16>,
    random: ChaCha8Rng,
}

impl Injector {
    /// A trial that begins at `from_s`.
    #[must_use]
    pub fn new(trial: &Trial, from_s: f64, seed: u64) -> Self {
        Self {
            fault: trial.fault,
            from_s,
            until_s: trial.lasts_s.map_or(f64::INFINITY, |lasts| from_s + lasts),
            first_code: None,
            random: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    /// The fault.
    #[must_use]
    pub fn fault(&self) -> Fault {
        self.fault
    }

    /// When it ends, seconds; infinite for a lasting one.
    #[must_use]
    pub fn until_s(&self) -> f64 {
        self.until_s
    }

    /// Whether it acts now. Times are sums of periods, so half a microsecond is as good as equal.
    #[must_use]
    pub fn acts(&self, time_s: f64) -> bool {
        time_s >= self.from_s - 5e-7 && time_s < self.until_s - 5e-7
    }

    /// Between the thermistor and the divider: the temperature that it shows.
    #[must_use]
    pub fn sensor(&self, time_s: f64, celsius: f64) -> f64 {
        match self.fault {
            Fault::Drift { kelvin, over_s } if self.acts(time_s) => {
                celsius + kelvin * ((time_s - self.from_s) / over_s).min(1.0)
            }
            _ => celsius,
        }
    }

    /// Between the converter and the thermometer: the code. `ends` are the codes of a broken wire and a short.
    pub fn code(&mut self, time_s: f64, code: u16, ends: (u16, u16)) -> u16 {
        if !self.acts(time_s) {
            return code;
        }
        match self.fault {
            Fault::Open => ends.0,
            Fault::Short => ends.1,
            Fault::StuckCode => *self.first_code.get_or_insert(code),
            Fault::NoiseBurst { codes } => {
                let codes = i32::from(codes.max(1));
                let off: i32 = self.random.random_range(-codes..=codes);
                let (low, high) = (ends.0.min(ends.1), ends.0.max(ends.1));
                (i32::from(code) + off).clamp(i32::from(low), i32::from(high)) as u16
            }
            _ => code,
        }
    }

    /// In the main loop: whether it comes to its step at all.
    #[must_use]
    pub fn steps(&self, time_s: f64) -> bool {
        !(self.acts(time_s) && matches!(self.fault, Fault::MissingSample | Fault::BrownOut))
    }

    /// In the main loop: periods that this sample comes late.
    #[must_use]
    pub fn late(&self, time_s: f64) -> f64 {
        match self.fault {
            Fault::LateSample { periods } if self.acts(time_s) => periods,
            _ => 0.0,
        }
    }

    /// At the output's clock: whether it ticks.
    #[must_use]
    pub fn ticks(&self, time_s: f64) -> bool {
        !(self.acts(time_s) && matches!(self.fault, Fault::OutputStopped | Fault::BrownOut))
    }

    /// At the tachometer's wire: the speed that its pulses show.
    #[must_use]
    pub fn rotation(&self, time_s: f64, speed: f64) -> f64 {
        let lost = matches!(
            self.fault,
            Fault::TachometerLoss | Fault::BlockedFan { watched: true }
        );
        if lost && self.acts(time_s) {
            0.0
        } else {
            speed
        }
    }

    /// Between the pin and the plant: the duty that arrives.
    #[must_use]
    pub fn actuator(&self, time_s: f64, duty: f64) -> f64 {
        if !self.acts(time_s) {
            return duty;
        }
        match self.fault {
            Fault::StuckOn => 1.0,
            Fault::Dead | Fault::BrownOut => 0.0,
            _ => duty,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn injector(fault: Fault) -> Injector {
        Injector::new(
            &Trial {
                fault,
                lasts_s: Some(10.0),
                one_in: 1,
            },
            100.0,
            1,
        )
    }

    #[test]
    fn acts_from_its_beginning_until_its_end_and_only_at_its_stage() {
        let mut open = injector(Fault::Open);
        assert_eq!(open.code(99.9, 500, (0, 1023)), 500);
        assert_eq!(open.code(100.0, 500, (0, 1023)), 0);
        assert_eq!(open.code(109.9, 500, (0, 1023)), 0);
        assert_eq!(open.code(110.0, 500, (0, 1023)), 500);
        assert_eq!(open.sensor(105.0, 40.0), 40.0);
        assert!(open.steps(105.0) && open.ticks(105.0));
        assert_eq!(open.actuator(105.0, 0.4), 0.4);
        assert_eq!(open.rotation(105.0, 9.0), 9.0);
        assert_eq!(injector(Fault::Short).code(105.0, 500, (0, 1023)), 1023);
        assert_eq!(injector(Fault::StuckOn).actuator(105.0, 0.4), 1.0);
        assert_eq!(injector(Fault::Dead).actuator(105.0, 0.4), 0.0);
        assert_eq!(injector(Fault::Dead).actuator(110.0, 0.4), 0.4);
        assert_eq!(
            injector(Fault::LateSample { periods: 1.5 }).late(105.0),
            1.5
        );
        assert_eq!(
            injector(Fault::LateSample { periods: 1.5 }).late(111.0),
            0.0
        );
        assert!(!injector(Fault::MissingSample).steps(105.0));
        assert!(injector(Fault::MissingSample).ticks(105.0));
        assert!(!injector(Fault::OutputStopped).ticks(105.0));
        let off = injector(Fault::BrownOut);
        assert!(!off.steps(105.0) && !off.ticks(105.0) && off.actuator(105.0, 1.0) == 0.0);
        let blocked = |watched| injector(Fault::BlockedFan { watched });
        assert_eq!(blocked(true).rotation(105.0, 9.0), 0.0);
        assert_eq!(blocked(true).rotation(110.0, 9.0), 9.0);
        assert_eq!(blocked(false).rotation(105.0, 9.0), 9.0);
    }

    #[test]
    fn drift_grows_and_a_stuck_code_is_the_first_one() {
        let drift = injector(Fault::Drift {
            kelvin: -2.0,
            over_s: 4.0,
        });
        assert_eq!(drift.sensor(100.0, 40.0), 40.0);
        assert_eq!(drift.sensor(102.0, 40.0), 39.0);
        assert_eq!(drift.sensor(108.0, 40.0), 38.0);
        let mut stuck = injector(Fault::StuckCode);
        assert_eq!(stuck.code(100.0, 500, (0, 1023)), 500);
        assert_eq!(stuck.code(105.0, 600, (0, 1023)), 500);
        assert_eq!(stuck.code(110.0, 600, (0, 1023)), 600);
    }

    #[test]
    fn noise_stays_within_its_width_and_the_scale() {
        let mut noise = injector(Fault::NoiseBurst { codes: 30 });
        let mut seen = std::collections::BTreeSet::new();
        for _ in 0..2_000 {
            let code = noise.code(105.0, 10, (1023, 0));
            assert!(code <= 40);
            seen.insert(code);
        }
        assert_eq!(seen.len(), 41, "every code of the width occurs");
    }
}
