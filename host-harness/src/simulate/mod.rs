//! The closed loop on the simulated plant: the shipped integers beside real arithmetic.
//!
//! Both loops see the same plant, the same events and converter noise of the same seed. The integer loop is the
//! shipped station, tick by tick; the other is the same loop in real arithmetic, with the drive's rules but
//! none of its integers.

mod actuation;
mod fixed;
pub mod held;
pub mod horizon;
pub mod long;
pub mod metrics;
pub mod observe;
mod pairs;
mod real;
pub mod scene;
pub mod station;
pub mod trace;
mod trial;

use controller_core::guard::Alarms;
use sensor_math::fault::FaultCode;

use self::fixed::Fixed;
use self::observe::{Observed, Observer};
use self::pairs::pairs;
use self::real::Real;
use self::scene::Scene;
use self::trace::Trace;
use crate::design::{Control, Design};
use crate::plan::Plan;
use crate::plant::Surroundings;

pub use self::trial::{Part, Trial, advise};

/// One sample of a simulated loop. Terms and duties are shares of full.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
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
    /// Whether a fan turns.
    pub turning: bool,
    /// Times that the switch went on.
    pub switched_on: u16,
    /// Alarms after the step; none in real arithmetic.
    pub alarms: Alarms,
    /// Fault of the reading.
    pub fault: Option<FaultCode>,
}

/// How far the integer law was from exact arithmetic on the same inputs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LawSeen {
    /// Largest distance of the output, LSB.
    pub error_lsb_max: f64,
    /// Samples compared.
    pub samples: u64,
    /// When the comparison ended for good, seconds: after an alarm or an unusable reading the station takes over at
    /// another integrator.
    pub ended_s: Option<f64>,
}

/// A simulated scenario. Figures are of every sample; of the samples themselves [`trace::KEPT`] are kept at most.
#[derive(Clone, Debug)]
pub struct Response {
    /// Sample period, seconds.
    pub period_s: f64,
    /// The loop in integers, thinned.
    pub fixed: Vec<Sample>,
    /// The loop in real arithmetic at the same moments.
    pub real: Vec<Sample>,
    /// What was observed of the loop in integers.
    pub observed: Observed,
    /// The law against exact arithmetic.
    pub law: LawSeen,
    /// Largest distance of the two loops' temperatures, kelvin.
    pub from_real_celsius_max: f64,
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

    /// From now on nothing changes.
    pub(crate) fn hold(&mut self) {
        self.next = usize::MAX;
        self.repeats = false;
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
pub fn run(
    design: &Design,
    plan: &Plan,
    read: &(dyn Fn(u16) -> Result<i16, FaultCode> + Sync),
) -> Response {
    let control = &design.control;
    let period_s = control.period_s;
    let samples = (control.scenario.duration_s / period_s).floor() as u64;
    let mut trace = Trace::new(samples);
    let mut from_real: f64 = 0.0;
    let (observed, law) = pairs(
        |sink| {
            let mut integers = Fixed::new(design, plan, read, Scene::new(design));
            let mut observer = Observer::new(design, samples);
            for _ in 0..samples {
                if observer.changes() {
                    observer.close(|| integers.held());
                }
                let sample = integers.sample();
                observer.take(&sample);
                sink.put(sample);
            }
            (observer.observed(|| integers.held()), integers.law)
        },
        |sink| {
            let mut real = Real::new(design, plan, Scene::new(design));
            (0..samples).for_each(|_| sink.put(real.sample()));
        },
        &mut |fixed, real| {
            trace.take(fixed, real);
            from_real = from_real.max((fixed.celsius - real.celsius).abs());
        },
    );
    let (fixed, real) = trace.kept();
    Response {
        period_s,
        fixed,
        real,
        observed,
        law,
        from_real_celsius_max: from_real,
    }
}
