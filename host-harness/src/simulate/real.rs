//! The same loop in real arithmetic, a sample at a time.

use super::actuation::RealDrive;
use super::held::mean;
use super::observe::GoesOn;
use super::scene::Scene;
use super::{Sample, share};
use crate::design::Design;
use crate::plan::Plan;
use crate::reference::law::RealLaw;

/// It, with all it stands in.
pub(super) struct Real<'a> {
    scene: Scene<'a>,
    law: RealLaw,
    drive: RealDrive,
}

impl<'a> Real<'a> {
    pub(super) fn new(design: &'a Design, plan: &Plan, scene: Scene<'a>) -> Self {
        let control = &design.control;
        let g = &control.quantised_gains;
        let k = &control.integers;
        let (low, high) = (share(k.lo), share(k.hi));
        let filter_samples = f64::from(1u32 << k.filter_exponent);
        Self {
            scene,
            law: RealLaw {
                kp: g.kp_per_kelvin,
                ki: g.ki_per_kelvin_second * control.period_s,
                kd: g.kd_second_per_kelvin / (control.period_s * filter_samples),
                filter_samples,
                low,
                high,
                cooling: control.is_cooling(),
                // without integral action nothing could ever unwind it
                integrator: if control.is_cooling() && k.ki > 0 {
                    high
                } else {
                    low
                },
                filtered: None,
            },
            drive: RealDrive::new(plan),
        }
    }

    /// The same from here on with nothing changing any more.
    pub(super) fn held(&self) -> Self {
        Self {
            scene: self.scene.held(),
            law: self.law.clone(),
            drive: self.drive.clone(),
        }
    }

    /// The next sample.
    pub(super) fn sample(&mut self) -> Sample {
        let before = self.scene.set_point();
        let time_s = self.scene.come();
        let set_point = self.scene.set_point();
        if before != set_point {
            self.law.change_set_point(before, set_point);
        }
        let code = self.scene.convert();
        let reading = self.scene.celsius_of(code);
        let celsius = self.scene.plant().celsius();
        let terms = self.law.step(set_point, reading);
        let held = self.drive.sample(terms.demand);
        let sample = Sample {
            time_s,
            set_point,
            celsius,
            code,
            reading,
            p: terms.p,
            i: terms.i,
            d: terms.d,
            demand: terms.demand,
            duty: mean(&held),
            fan_speed: self.scene.plant().fan_speed(),
            turning: self.scene.turning(),
            ..Sample::default()
        };
        self.scene.advance(&held);
        sample
    }
}

impl GoesOn for Real<'_> {
    fn next(&mut self) -> Sample {
        self.sample()
    }
}
