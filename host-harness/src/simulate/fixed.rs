//! The loop in integers: the shipped station around the plant, a sample at a time.

use sensor_math::fault::FaultCode;

use super::held::mean;
use super::scene::Scene;
use super::station::{self, RunningStation, StepTerms};
use super::{Sample, share};
use crate::design::Design;
use crate::plan::{Plan, temperature_word};
use crate::reference::exact::ExactLaw;

/// It, with all it stands in. `read` is the shipped thermometer: code in, word or fault out.
pub(super) struct Fixed<'a> {
    read: &'a dyn Fn(u16) -> Result<i16, FaultCode>,
    plan: &'a Plan,
    station: Box<dyn RunningStation>,
    scene: Scene<'a>,
    exact: Option<ExactLaw>,
    /// Largest distance of the law's output from exact arithmetic so far, LSB.
    pub(super) law_error_lsb_max: f64,
}

impl<'a> Fixed<'a> {
    pub(super) fn new(
        design: &'a Design,
        plan: &'a Plan,
        read: &'a dyn Fn(u16) -> Result<i16, FaultCode>,
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
            law_error_lsb_max: 0.0,
            plan,
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
                self.law_error_lsb_max = self.law_error_lsb_max.max(error);
            }
            // after a fault the station takes over at another integrator: nothing to compare with from there
            _ => self.exact = None,
        }
        let held = station.ticks(self.plan.ticks_per_sample.into());
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
        };
        self.scene.advance(&held);
        sample
    }
}
