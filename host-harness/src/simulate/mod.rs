//! The closed loop on the simulated plant: the shipped integers beside real arithmetic.
//!
//! Both loops see the same plant, the same events and converter noise of the same seed. The integer loop is the
//! shipped station, tick by tick; the other is the same loop in real arithmetic, with the drive's rules but
//! none of its integers.

mod actuation;
mod fixed;
pub mod held;
pub mod long;
pub mod metrics;
mod real;
pub mod scene;
pub mod station;

use sensor_math::fault::FaultCode;

use self::fixed::Fixed;
use self::real::Real;
use self::scene::Scene;
use crate::design::{Control, Design};
use crate::plan::Plan;
use crate::plant::Surroundings;
use metrics::Stretch;

/// One sample of a simulated loop. Terms and duties are shares of full.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Time, seconds.
    pub time_s: f64,
    /// Set point, degC.
    pub set_point: f64,
    /// True temperature, degC.
    pub celsius: f64,
    /// Code of the converter.
    pub code: u16,
    /// Temperature that the controller read, degC.
    pub reading: f64,
    /// Proportional term.
    pub p: f64,
    /// Integral term.
    pub i: f64,
    /// Derivative term.
    pub d: f64,
    /// What the law asks for.
    pub demand: f64,
    /// What the pin does, averaged over the sample.
    pub duty: f64,
    /// Fan speed, share of full.
    pub fan_speed: f64,
}

/// A simulated scenario.
#[derive(Clone, Debug)]
pub struct Response {
    /// Sample period, seconds.
    pub period_s: f64,
    /// The loop in integers.
    pub fixed: Vec<Sample>,
    /// The loop in real arithmetic.
    pub real: Vec<Sample>,
    /// Stretches between changes.
    pub stretches: Vec<Stretch>,
    /// Largest distance of the integer law's output from exact arithmetic on the same inputs, LSB.
    pub law_error_lsb_max: f64,
}

/// A duty word as a share of full.
#[must_use]
pub fn share(word: i16) -> f64 {
    f64::from(word) / f64::from(i16::MAX)
}

/// What surrounds the plant, and the set point, at each moment of the scenario.
#[derive(Clone)]
pub(crate) struct Story<'a> {
    pub(crate) control: &'a Control,
    next: usize,
    /// When the story began for the last time, and whether it begins again after its end.
    began_s: f64,
    repeats: bool,
    pub(crate) around: Surroundings,
    pub(crate) set_point: f64,
}

impl<'a> Story<'a> {
    pub(crate) fn new(control: &'a Control) -> Self {
        let around = Surroundings {
            load_w: control.plant.load_w,
            ambient_celsius: control.plant.ambient_celsius,
        };
        Self {
            control,
            next: 0,
            began_s: 0.0,
            repeats: false,
            around,
            set_point: control.set_point_celsius,
        }
    }

    /// The same over and over.
    pub(crate) fn repeating(control: &'a Control) -> Self {
        Self {
            repeats: true,
            ..Self::new(control)
        }
    }

    /// Applies what is due; true when something changed.
    pub(crate) fn advance_to(&mut self, time_s: f64) -> bool {
        let mut changed = false;
        let ends_s = self.began_s + self.control.scenario.duration_s;
        if self.repeats && time_s >= ends_s {
            *self = Self {
                began_s: ends_s,
                ..Self::repeating(self.control)
            };
            changed = true;
        }
        while let Some(event) = self
            .control
            .scenario
            .events
            .get(self.next)
            .filter(|e| self.began_s + e.at_s <= time_s)
        {
            self.around.load_w = event.load_w.unwrap_or(self.around.load_w);
            self.around.ambient_celsius =
                event.ambient_celsius.unwrap_or(self.around.ambient_celsius);
            self.set_point = event.set_point_celsius.unwrap_or(self.set_point);
            self.next += 1;
            changed = true;
        }
        changed
    }
}

/// Runs the scenario. `read` is the shipped thermometer with the design's table: code in, word or fault out.
#[must_use]
pub fn run(design: &Design, plan: &Plan, read: &dyn Fn(u16) -> Result<i16, FaultCode>) -> Response {
    let control = &design.control;
    let period_s = control.period_s;
    let samples = (control.scenario.duration_s / period_s).floor() as usize;
    let mut integers = Fixed::new(design, plan, read, Scene::new(design));
    let fixed = (0..samples).map(|_| integers.sample()).collect();
    let law_error_lsb_max = integers.law_error_lsb_max;
    let mut real = Real::new(design, plan, Scene::new(design));
    let real = (0..samples).map(|_| real.sample()).collect();

    let mut stretches = vec![Stretch {
        from: 0,
        to: samples,
        set_point: control.set_point_celsius,
    }];
    for event in &control.scenario.events {
        let at = ((event.at_s / period_s).ceil() as usize).min(samples);
        let last = stretches.last_mut().expect("starts with one");
        let set_point = event.set_point_celsius.unwrap_or(last.set_point);
        last.to = at;
        stretches.push(Stretch {
            from: at,
            to: samples,
            set_point,
        });
    }
    Response {
        period_s,
        fixed,
        real,
        stretches,
        law_error_lsb_max,
    }
}
