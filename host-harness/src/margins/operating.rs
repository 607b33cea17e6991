//! The loop of a design at each operating point of its scenario.
//!
//! A stretch between two events is an operating point: set point, load and surroundings stand still, and the duty is what
//! holds the judged temperature at the set point. Round it the plant is linear: `A`, `B` are the derivatives of
//! [`Plant::slopes`] by state and duty (central differences), the reading is the sensor's state `dead_time_s` later. Where even
//! the lowest or the highest duty leaves the temperature beside the set point the law is at its limit: the loop is open, and its
//! margins are those it has when it comes off that limit.

use nalgebra::{DMatrix, DVector};

use super::Margins;
use super::law::{OpenLoop, SampledLaw};
use super::linear::Linear;
use crate::design::{Actuator, Control, Design};
use crate::plant::{Plant, SENSOR, State, Surroundings};
use crate::simulate::share;

/// A moment of the scenario at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OperatingPoint {
    /// When it begins, seconds.
    pub from_s: f64,
    /// Set point, degC.
    pub set_point_celsius: f64,
    /// What surrounds the plant.
    pub around: Surroundings,
    /// Duty that holds the set point, or the limit that comes nearest, share of full.
    pub duty: f64,
    /// Temperature that this duty leads to, degC: the set point, unless the law is at its limit.
    pub rests_at_celsius: f64,
}

impl OperatingPoint {
    /// True when no duty inside the law's limits holds the set point.
    #[must_use]
    pub fn at_limit(&self) -> bool {
        (self.rests_at_celsius - self.set_point_celsius).abs() > 1e-6
    }
}

/// The loop at one of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointMargins {
    /// Where.
    pub point: OperatingPoint,
    /// Change of the settled temperature with the duty, kelvin a full stroke; negative for cooling.
    pub gain_kelvin: f64,
    /// Dead time that was counted: the plant's, and what sampling in bursts and switching in windows add, seconds.
    pub dead_time_s: f64,
    /// Its margins.
    pub margins: Margins,
}

/// Every operating point of the scenario, in order of time; events that change none of set point, load or surroundings, and points
/// that are the same as an earlier one, are left out.
#[must_use]
pub fn points(control: &Control) -> Vec<OperatingPoint> {
    let mut around = Surroundings {
        load_w: control.plant.load_w,
        ambient_celsius: control.plant.ambient_celsius,
    };
    let mut set_point = control.set_point_celsius;
    let mut found = vec![point(control, 0.0, set_point, around)];
    for event in &control.scenario.events {
        around.load_w = event.load_w.unwrap_or(around.load_w);
        around.ambient_celsius = event.ambient_celsius.unwrap_or(around.ambient_celsius);
        set_point = event.set_point_celsius.unwrap_or(set_point);
        let next = point(control, event.at_s, set_point, around);
        let same = |p: &OperatingPoint| {
            p.around == next.around && p.set_point_celsius == next.set_point_celsius
        };
        if !found.iter().any(same) {
            found.push(next);
        }
    }
    found
}

fn point(
    control: &Control,
    from_s: f64,
    set_point_celsius: f64,
    around: Surroundings,
) -> OperatingPoint {
    let plant = &control.plant.plant;
    let limits = (share(control.integers.lo), share(control.integers.hi));
    let rest = |duty: f64| plant.settled(duty, around)[crate::plant::NODE];
    let duty = plant
        .duty_for(set_point_celsius, limits, around)
        .unwrap_or_else(|| {
            let off = |duty: f64| (rest(duty) - set_point_celsius).abs();
            if off(limits.0) <= off(limits.1) {
                limits.0
            } else {
                limits.1
            }
        });
    OperatingPoint {
        from_s,
        set_point_celsius,
        around,
        duty,
        rests_at_celsius: rest(duty),
    }
}

/// Step of the central differences, kelvin or share of full: the error of the difference is of its square.
const STEP: f64 = 1e-4;

/// The plant round a rest: from duty (share of full) to the sensor's reading (kelvin).
#[must_use]
pub fn linear(plant: &Plant, duty: f64, around: Surroundings) -> Linear {
    let rest = plant.settled(duty, around);
    let n = plant.order();
    let slopes = |state: &State, duty: f64| plant.slopes(state, duty, around);
    let difference =
        |up: State, down: State| DVector::from_fn(n, |row, _| (up[row] - down[row]) / (2.0 * STEP));
    let mut a = DMatrix::zeros(n, n);
    for column in 0..n {
        let at = |step: f64| {
            let mut state = rest;
            state[column] += step;
            slopes(&state, duty)
        };
        a.set_column(column, &difference(at(STEP), at(-STEP)));
    }
    let b = difference(slopes(&rest, duty + STEP), slopes(&rest, duty - STEP));
    let mut c = DVector::zeros(n);
    c[SENSOR] = 1.0;
    Linear {
        a,
        b,
        c,
        dead_time_s: plant.dead_time_s(),
    }
}

/// What the way from converter to actuator adds to the dead time, seconds, at this duty.
///
/// A burst of conversions is centred half its length before the law sees its sum. A window of a time-proportional output
/// ends its pulse at `duty * window`: a small change of demand acts there, as an impulse, where the sample's hold is centred on
/// `period / 2`, which the sampled plant counts already (uniformly sampled pulse width modulation, its trailing edge).
#[must_use]
pub fn loop_delay_s(design: &Design, duty: f64) -> f64 {
    let burst = design.sensing.facts.burst;
    let burst_s = f64::from(burst.samples - 1) / burst.hertz;
    let window_s = match &design.control.actuator {
        Actuator::Fan(_) => 0.0,
        // a PWM pin changes within its own period, far below a sample
        Actuator::Heater(heater) if heater.pwm.is_some() => 0.0,
        Actuator::Heater(heater) => {
            (duty * heater.window_s - 0.5 * design.control.period_s).max(0.0)
        }
    };
    0.5 * burst_s + window_s
}

/// The design's law, from the gains that its integers stand for.
#[must_use]
pub fn law(control: &Control) -> SampledLaw {
    let gains = &control.quantised_gains;
    SampledLaw::of_times(
        gains.kp_per_kelvin,
        gains.ki_per_kelvin_second,
        gains.kd_second_per_kelvin,
        control.integers.filter_exponent,
        control.period_s,
    )
}

/// The open loop at an operating point, without its law.
#[must_use]
pub fn open_loop(design: &Design, point: &OperatingPoint) -> (Linear, OpenLoop) {
    let control = &design.control;
    let mut plant = linear(&control.plant.plant, point.duty, point.around);
    plant.dead_time_s += loop_delay_s(design, point.duty);
    let open = OpenLoop::new(&plant, control.period_s);
    (plant, open)
}

/// Margins at every operating point of a design's scenario.
#[must_use]
pub fn margins(design: &Design) -> Vec<PointMargins> {
    let law = law(&design.control);
    points(&design.control)
        .into_iter()
        .map(|point| {
            let (plant, open) = open_loop(design, &point);
            PointMargins {
                point,
                gain_kelvin: plant.gain(),
                dead_time_s: plant.dead_time_s,
                margins: open.margins(&law),
            }
        })
        .collect()
}
