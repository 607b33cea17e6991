//! Simulated plants: what the controller is tried on before anything is flashed.
//!
//! Two thermal nodes each, a lagging sensor and a lagging actuator. The parameters come from the design
//! file's `[plant]` section; the scenario changes load and surroundings on the way.
//!
//! A plant is a pure function of its state, the duty and the surroundings ([`Plant::slopes`]), for whoever
//! linearises it, and something that goes on in time ([`Plant::advance`]), for whoever simulates it.

pub mod converter;
pub mod enclosure;
pub mod fan;
mod nodes;
pub mod sound;
pub mod tachometer;
pub mod vessel;

use enclosure::Enclosure;
use vessel::Vessel;

/// Longest step of the integration, seconds.
const LONGEST_STEP_S: f64 = 0.25;
/// Shortest step that a short time constant asks for, seconds. The integration is stable at any step; a node
/// quicker than this only follows the others.
const SHORTEST_STEP_S: f64 = 0.02;
/// Step as a share of the fastest time constant.
const STEP_OF_FASTEST: f64 = 0.25;

/// What a plant remembers: temperatures in degC, the fan's speed as a share of full.
pub type State = [f64; 4];
/// Index of the warm parts of a box, or of a vessel's heater, degC.
pub const BODY: usize = 0;
/// Index of a box's air, or of a vessel's contents, degC: the temperature that is judged, and what the sensor
/// follows.
pub const NODE: usize = 1;
/// Index of the sensor, degC.
pub const SENSOR: usize = 2;
/// Index of the fan's speed, share of full; a vessel has none and leaves it at 0.
pub const SPEED: usize = 3;

/// A plant with everything that surrounds it.
#[derive(Clone, Debug)]
pub enum Plant {
    /// A box with fans; cooling.
    Enclosure(Enclosure),
    /// Something heated; heating.
    Vessel(Vessel),
}

/// What acts on a plant during one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Heat made inside, watt.
    pub load_w: f64,
    /// Temperature outside, degC.
    pub ambient_celsius: f64,
}

impl Plant {
    /// Advances by `seconds` with `duty` (0..=1) at the actuator.
    pub fn advance(&mut self, seconds: f64, duty: f64, around: Surroundings) {
        let fastest = match self {
            Plant::Enclosure(p) => p.fastest_s(),
            Plant::Vessel(p) => p.fastest_s(),
        };
        let longest = (STEP_OF_FASTEST * fastest).clamp(SHORTEST_STEP_S, LONGEST_STEP_S);
        let steps = (seconds / longest).ceil().max(1.0);
        let step = seconds / steps;
        for _ in 0..steps as u64 {
            match self {
                Plant::Enclosure(p) => p.advance(step, duty, around),
                Plant::Vessel(p) => p.advance(step, duty, around),
            }
        }
    }

    /// How many words of a [`State`] this plant has: 4 with a fan, 3 without.
    #[must_use]
    pub fn order(&self) -> usize {
        match self {
            Plant::Enclosure(_) => 4,
            Plant::Vessel(_) => 3,
        }
    }

    /// The state now.
    #[must_use]
    pub fn state(&self) -> State {
        match self {
            Plant::Enclosure(p) => [p.mass_celsius, p.air_celsius, p.sensor_celsius, p.fan.speed],
            Plant::Vessel(p) => [p.heater_celsius, p.contents_celsius, p.sensor_celsius, 0.0],
        }
    }

    /// Puts the plant into a state; its fan turns when there is a speed.
    pub fn set_state(&mut self, state: State) {
        let [body, node, sensor, speed] = state;
        match self {
            Plant::Enclosure(p) => {
                (p.mass_celsius, p.air_celsius, p.sensor_celsius) = (body, node, sensor);
                p.fan.speed = speed;
                p.fan.turning = speed > 0.0;
            }
            Plant::Vessel(p) => {
                (p.heater_celsius, p.contents_celsius, p.sensor_celsius) = (body, node, sensor);
            }
        }
    }

    /// Time derivative of a state, kelvin per second (of the speed: per second), with the fan turning and nothing
    /// of the dead time, which [`Plant::dead_time_s`] gives. A pure function: it asks nothing of the plant's own
    /// state.
    ///
    /// ```
    /// use host_harness::plant::{Plant, Surroundings, NODE, vessel::Vessel};
    /// let mat = Plant::Vessel(Vessel {
    ///     heater_w: 45.0, heater_joule_per_kelvin: 900.0, contents_joule_per_kelvin: 14_000.0,
    ///     coupling_w_per_kelvin: 6.0, loss_w_per_kelvin: 1.6, sensor_lag_s: 25.0,
    ///     heater_celsius: 18.0, contents_celsius: 18.0, sensor_celsius: 18.0,
    /// });
    /// let around = Surroundings { load_w: 0.0, ambient_celsius: 18.0 };
    /// let settled = mat.settled(0.4, around); // 18 W through 1.6 W/K
    /// assert!((settled[NODE] - 29.25).abs() < 1e-9);
    /// assert!(mat.slopes(&settled, 0.4, around).iter().all(|slope| slope.abs() < 1e-12));
    /// ```
    #[must_use]
    pub fn slopes(&self, state: &State, duty: f64, around: Surroundings) -> State {
        match self {
            Plant::Enclosure(p) => p.slopes(state, duty, around),
            Plant::Vessel(p) => p.slopes(state, duty, around),
        }
    }

    /// The state that a constant duty (of a fan that turns) leads to in the end.
    #[must_use]
    pub fn settled(&self, duty: f64, around: Surroundings) -> State {
        match self {
            Plant::Enclosure(p) => p.settled(p.fan.speed_at(duty), around),
            Plant::Vessel(p) => p.settled(duty, around),
        }
    }

    /// The duty from `low` to `high` whose end is `celsius` at the node that is judged; `None` when neither end of
    /// that range of duties reaches it.
    #[must_use]
    pub fn duty_for(
        &self,
        celsius: f64,
        (low, high): (f64, f64),
        around: Surroundings,
    ) -> Option<f64> {
        let above = |duty| self.settled(duty, around)[NODE] - celsius;
        let (mut a, mut b) = (low, high);
        let sign = above(a).signum();
        if sign == above(b).signum() {
            return None;
        }
        for _ in 0..60 {
            let middle = 0.5 * (a + b);
            if above(middle).signum() == sign {
                a = middle;
            } else {
                b = middle;
            }
        }
        Some(0.5 * (a + b))
    }

    /// Dead time between the judged node and the sensor, seconds.
    #[must_use]
    pub fn dead_time_s(&self) -> f64 {
        0.0
    }

    /// The temperature that matters (air of the box, contents of the vessel), degC.
    #[must_use]
    pub fn celsius(&self) -> f64 {
        self.state()[NODE]
    }

    /// What the sensor has come to, degC: what the converter is shown.
    #[must_use]
    pub fn sensor_celsius(&self) -> f64 {
        self.state()[SENSOR]
    }

    /// Speed of the first fan as a share of full speed; 0 for a plant without fans.
    #[must_use]
    pub fn fan_speed(&self) -> f64 {
        self.state()[SPEED]
    }
}

#[cfg(test)]
mod tests;
