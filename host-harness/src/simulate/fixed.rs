//! The loop in integers: the shipped station around the plant, a sample at a time.

use sensor_math::fault::FaultCode;

use super::held::mean;
use super::observe::GoesOn;
use super::scene::Scene;
use super::station::{self, RunningStation, StepTerms};
use super::{LawSeen, Sample, share};
use crate::design::Design;
use crate::plan::{DrivePlan, Plan, temperature_word};
use crate::reference::exact::ExactLaw;

/// It, with all it stands in. `read` is the shipped thermometer: code in, word or fault out.
pub(super) struct Fixed<'a> {
    read: &'a (dyn Fn(u16) -> Result<i16, FaultCode> + Sync),
    plan: &'a Plan,
    station: Box<dyn RunningStation>,
    scene: Scene<'a>,
    exact: Option<ExactLaw>,
    /// The law against exact arithmetic so far.
    pub(super) law: LawSeen,
    /// Whether the switch, when the output is one, is on.
    on: bool,
}

impl<'a> Fixed<'a> {
    pub(super) fn new(
        design: &'a Design,
        plan: &'a Plan,
        read: &'a (dyn Fn(u16) -> Result<i16, FaultCode> + Sync),
        scene: Scene<'a>,
    ) -> Self {
        let k = &plan.law;
        Self {
            read,
            station: station::station(plan),
            scene,
            exact: Some(ExactLaw::new(
                k.kp,
                k.ki,
                k.kd,
                k.scale,
                k.filter_exponent,
                k.lo,
                k.hi,
                design.control.is_cooling(),
            )),
            law: LawSeen::default(),
            on: false,
            plan,
        }
    }

    /// The same from here on with nothing changing any more, and without the exact law beside it.
    pub(super) fn held(&self) -> Self {
        Self {
            read: self.read,
            plan: self.plan,
            station: self.station.clone(),
            scene: self.scene.held(),
            exact: None,
            law: LawSeen::default(),
            on: self.on,
        }
    }

    /// The next sample.
    pub(super) fn sample(&mut self) -> Sample {
        let bits = self.plan.fraction_bits;
        let before = self.scene.set_point();
        let time_s = self.scene.come();
        let set_point = self.scene.set_point();
        if before != set_point {
            let (old, new) = (
                temperature_word(before, bits),
                temperature_word(set_point, bits),
            );
            self.station.change_set_point(new);
            if let Some(exact) = &mut self.exact {
                exact.change_set_point(old, new);
            }
        }
        let station = &mut self.station;
        let code = self.scene.convert();
        let reading = (self.read)(code);
        let terms = reading.map_or_else(|_| StepTerms::default(), |word| station.terms(word));
        station.pulses(self.scene.pulses());
        station.sample(reading, self.plan.ticks_per_sample);
        match (reading, &mut self.exact) {
            (Ok(word), Some(law)) if !station.alarms().unsafe_to_run() => {
                let wanted = law.step(temperature_word(set_point, bits), word);
                let error = (f64::from(station.demand()) - wanted).abs();
                self.law.error_lsb_max = self.law.error_lsb_max.max(error);
                self.law.samples += 1;
            }
            // after a fault the station takes over at another integrator: nothing to compare with from there
            _ => {
                if self.exact.take().is_some() {
                    self.law.ended_s = Some(time_s);
                }
            }
        }
        let held = station.ticks(self.plan.ticks_per_sample.into());
        let mut switched_on: u16 = 0;
        if matches!(self.plan.drive, DrivePlan::Switch(_)) {
            for part in &held {
                let on = part.duty > 0.0;
                switched_on = switched_on.saturating_add(u16::from(on && !self.on));
                self.on = on;
            }
        }
        let lsb = f64::from(i16::MAX);
        let sample = Sample {
            time_s,
            set_point,
            celsius: self.scene.plant().celsius(),
            code,
            reading: reading.map_or(f64::NAN, |word| f64::from(word) / f64::from(1u32 << bits)),
            p: f64::from(terms.p) / lsb,
            i: f64::from(terms.i) / lsb,
            d: f64::from(terms.d) / lsb,
            demand: share(station.demand()),
            duty: mean(&held),
            fan_speed: self.scene.plant().fan_speed(),
            turning: self.scene.turning(),
            switched_on,
            alarms: station.alarms(),
            fault: reading.err(),
        };
        self.scene.advance(&held);
        sample
    }
}

impl GoesOn for Fixed<'_> {
    fn next(&mut self) -> Sample {
        self.sample()
    }
}
