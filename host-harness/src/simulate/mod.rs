//! The closed loop on the simulated plant: the shipped integers beside real arithmetic.
//!
//! Both loops see the same plant, the same events and converter noise of the same seed. The integer loop is the
//! shipped station, tick by tick; the other is the same loop in real arithmetic, with the drive's rules but
//! none of its integers.

mod actuation;
pub mod metrics;
pub mod station;

use sensor_math::fault::FaultCode;

use crate::design::{Control, Design};
use crate::plan::{Plan, temperature_word};
use crate::plant::converter::Converter;
use crate::plant::{Plant, Surroundings};
use crate::reference::exact::ExactLaw;
use crate::reference::law::RealLaw;
use crate::reference::sensor::Truth;
use actuation::{RealDrive, Tachometer};
use metrics::Stretch;
use station::StepTerms;

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
            around,
            set_point: control.set_point_celsius,
        }
    }

    /// Applies what is due; true when something changed.
    pub(crate) fn advance_to(&mut self, time_s: f64) -> bool {
        let mut changed = false;
        while let Some(event) = self
            .control
            .scenario
            .events
            .get(self.next)
            .filter(|e| e.at_s <= time_s)
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
pub fn run(design: &Design, read: &dyn Fn(u16) -> Result<i16, FaultCode>) -> Response {
    let control = &design.control;
    let period_s = control.period_s;
    let samples = (control.scenario.duration_s / period_s).floor() as usize;
    let (fixed, law_error_lsb_max) = run_fixed(design, read, samples);
    let real = run_real(design, samples);

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

fn run_fixed(
    design: &Design,
    read: &dyn Fn(u16) -> Result<i16, FaultCode>,
    samples: usize,
) -> (Vec<Sample>, f64) {
    let plan = Plan::new(design);
    let mut station = station::station(&plan);
    let control = &design.control;
    let (k, bits) = (&plan.law, plan.fraction_bits);
    let truth = Truth::new(&design.sensing.sensor);
    let mut converter = Converter::new(
        design.sensing.sensor.adc.bits,
        design.sensing.facts.noise_lsb,
        control.scenario.seed,
    );
    let mut plant: Plant = control.plant.plant.clone();
    let mut story = Story::new(control);
    let mut exact = Some(ExactLaw::new(
        k.kp,
        k.ki,
        k.kd,
        k.scale,
        k.filter_exponent,
        k.lo,
        k.hi,
        control.is_cooling(),
    ));
    let mut worst: f64 = 0.0;
    let mut out = Vec::with_capacity(samples);
    let mut tachometer = Tachometer::new(control);
    for n in 0..samples {
        let before = story.set_point;
        if story.advance_to(n as f64 * control.period_s) && before != story.set_point {
            let (old, new) = (
                temperature_word(before, bits),
                temperature_word(story.set_point, bits),
            );
            station.change_set_point(new);
            if let Some(exact) = &mut exact {
                exact.change_set_point(old, new);
            }
        }
        let code = converter.convert(truth.position(plant.sensor_celsius()));
        let reading = read(code);
        let terms = reading.map_or_else(|_| StepTerms::default(), |word| station.terms(word));
        station.pulses(tachometer.pulses(plant.fan_speed()));
        station.sample(reading, plan.ticks_per_sample);
        match (reading, &mut exact) {
            (Ok(word), Some(law)) if !station.alarms().unsafe_to_run() => {
                let wanted = law.step(temperature_word(story.set_point, bits), word);
                worst = worst.max((f64::from(station.demand()) - wanted).abs());
            }
            // after a fault the station takes over at another integrator: nothing to compare with from there
            _ => exact = None,
        }
        let ticks = plan.ticks_per_sample;
        let duty = station.ticks(ticks.into());
        let lsb = f64::from(i16::MAX);
        out.push(Sample {
            time_s: n as f64 * control.period_s,
            set_point: story.set_point,
            celsius: plant.celsius(),
            code,
            reading: reading.map_or(f64::NAN, |word| f64::from(word) / f64::from(1u32 << bits)),
            p: f64::from(terms.p) / lsb,
            i: f64::from(terms.i) / lsb,
            d: f64::from(terms.d) / lsb,
            demand: share(station.demand()),
            duty,
            fan_speed: plant.fan_speed(),
        });
        plant.advance(control.period_s, duty, story.around);
    }
    (out, worst)
}

fn run_real(design: &Design, samples: usize) -> Vec<Sample> {
    let control = &design.control;
    let truth = Truth::new(&design.sensing.sensor);
    let mut converter = Converter::new(
        design.sensing.sensor.adc.bits,
        design.sensing.facts.noise_lsb,
        control.scenario.seed,
    );
    let mut plant: Plant = control.plant.plant.clone();
    let mut story = Story::new(control);
    let g = &control.quantised_gains;
    let k = &control.integers;
    let (low, high) = (share(k.lo), share(k.hi));
    let filter_samples = f64::from(1u32 << k.filter_exponent);
    let mut law = RealLaw {
        kp: g.kp_per_kelvin,
        ki: g.ki_per_kelvin_second * control.period_s,
        kd: g.kd_second_per_kelvin / (control.period_s * filter_samples),
        filter_samples,
        low,
        high,
        cooling: control.is_cooling(),
        integrator: if control.is_cooling() { high } else { low },
        filtered: None,
    };
    let mut drive = RealDrive::new(&Plan::new(design));
    let mut out = Vec::with_capacity(samples);
    for n in 0..samples {
        let time_s = n as f64 * control.period_s;
        let before = story.set_point;
        if story.advance_to(time_s) {
            law.change_set_point(before, story.set_point);
        }
        let code = converter.convert(truth.position(plant.sensor_celsius()));
        let reading = truth.celsius(code);
        let celsius = plant.celsius();
        let terms = law.step(story.set_point, reading);
        let duty = drive.sample(terms.demand);
        out.push(Sample {
            time_s,
            set_point: story.set_point,
            celsius,
            code,
            reading,
            p: terms.p,
            i: terms.i,
            d: terms.d,
            demand: terms.demand,
            duty,
            fan_speed: plant.fan_speed(),
        });
        plant.advance(control.period_s, duty, story.around);
    }
    out
}
