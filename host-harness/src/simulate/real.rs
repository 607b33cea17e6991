//! The same loop in real arithmetic, a sample at a time.

use super::actuation::RealDrive;
use super::{Sample, Story, share};
use crate::design::Design;
use crate::plan::Plan;
use crate::plant::Plant;
use crate::plant::converter::Converter;
use crate::reference::law::RealLaw;
use crate::reference::sensor::Truth;

/// It, with all it stands in.
pub(super) struct Real<'a> {
    truth: Truth,
    converter: Converter,
    plant: Plant,
    story: Story<'a>,
    law: RealLaw,
    drive: RealDrive,
    next: u64,
}

impl<'a> Real<'a> {
    pub(super) fn new(design: &'a Design, story: Story<'a>) -> Self {
        let control = &design.control;
        let g = &control.quantised_gains;
        let k = &control.integers;
        let (low, high) = (share(k.lo), share(k.hi));
        let filter_samples = f64::from(1u32 << k.filter_exponent);
        Self {
            truth: Truth::new(&design.sensing.sensor),
            converter: Converter::new(
                design.sensing.sensor.adc.bits,
                design.sensing.facts.noise_lsb,
                control.scenario.seed,
            ),
            plant: control.plant.plant.clone(),
            story,
            law: RealLaw {
                kp: g.kp_per_kelvin,
                ki: g.ki_per_kelvin_second * control.period_s,
                kd: g.kd_second_per_kelvin / (control.period_s * filter_samples),
                filter_samples,
                low,
                high,
                cooling: control.is_cooling(),
                integrator: if control.is_cooling() { high } else { low },
                filtered: None,
            },
            drive: RealDrive::new(&Plan::new(design)),
            next: 0,
        }
    }

    /// The next sample.
    pub(super) fn sample(&mut self) -> Sample {
        let period_s = self.story.control.period_s;
        let time_s = self.next as f64 * period_s;
        self.next += 1;
        let before = self.story.set_point;
        if self.story.advance_to(time_s) {
            self.law.change_set_point(before, self.story.set_point);
        }
        let code = self
            .converter
            .convert(self.truth.position(self.plant.sensor_celsius()));
        let reading = self.truth.celsius(code);
        let celsius = self.plant.celsius();
        let terms = self.law.step(self.story.set_point, reading);
        let duty = self.drive.sample(terms.demand);
        let sample = Sample {
            time_s,
            set_point: self.story.set_point,
            celsius,
            code,
            reading,
            p: terms.p,
            i: terms.i,
            d: terms.d,
            demand: terms.demand,
            duty,
            fan_speed: self.plant.fan_speed(),
        };
        self.plant.advance(period_s, duty, self.story.around);
        sample
    }
}
