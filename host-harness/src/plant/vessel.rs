//! Something heated: a heater with a mass of its own, contents, losses to the surroundings.

use super::nodes::{self, Balance};
use super::{BODY, NODE, SENSOR, State, Surroundings};

/// The vessel (a kettle, a propagation tray).
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Heater's power at full duty, watt.
    pub heater_w: f64,
    /// Heat capacity of the heater, J/K.
    pub heater_joule_per_kelvin: f64,
    /// Heat capacity of the contents, J/K.
    pub contents_joule_per_kelvin: f64,
    /// Heater to contents, W/K.
    pub coupling_w_per_kelvin: f64,
    /// Contents to surroundings, W/K.
    pub loss_w_per_kelvin: f64,
    /// Time constant of the sensor, seconds.
    pub sensor_lag_s: f64,
    /// Heater, degC.
    pub heater_celsius: f64,
    /// Contents, degC.
    pub contents_celsius: f64,
    /// Sensor, degC.
    pub sensor_celsius: f64,
}

impl Vessel {
    /// Shortest time constant, seconds.
    #[must_use]
    pub fn fastest_s(&self) -> f64 {
        let away = self.coupling_w_per_kelvin + self.loss_w_per_kelvin;
        (self.heater_joule_per_kelvin / self.coupling_w_per_kelvin)
            .min(self.contents_joule_per_kelvin / away)
            .min(self.sensor_lag_s)
    }

    /// Heater and contents. `load_w` is heat from elsewhere (a lamp, a reaction); it enters the contents.
    fn balance(&self, duty: f64, around: Surroundings, [heater, contents]: [f64; 2]) -> Balance {
        let (inner, outer) = (self.coupling_w_per_kelvin, self.loss_w_per_kelvin);
        let (of_heater, of_contents) =
            (self.heater_joule_per_kelvin, self.contents_joule_per_kelvin);
        let in_w = inner * (heater - contents);
        let out_w = outer * (contents - around.ambient_celsius);
        Balance {
            slopes: [
                (self.heater_w * duty - in_w) / of_heater,
                (in_w + around.load_w - out_w) / of_contents,
            ],
            jacobian: [
                [-inner / of_heater, inner / of_heater],
                [inner / of_contents, -(inner + outer) / of_contents],
            ],
        }
    }

    pub(super) fn slopes(&self, state: &State, duty: f64, around: Surroundings) -> State {
        let [heater, contents] = self
            .balance(duty, around, [state[BODY], state[NODE]])
            .slopes;
        [
            heater,
            contents,
            (state[NODE] - state[SENSOR]) / self.sensor_lag_s,
            0.0,
        ]
    }

    /// One short step: the sensor exactly, the rest by ROS2 (`nodes`).
    pub(super) fn advance(&mut self, seconds: f64, duty: f64, around: Surroundings) {
        let [heater, contents] = nodes::step(
            [self.heater_celsius, self.contents_celsius],
            seconds,
            |t| self.balance(duty, around, t),
            |t| self.balance(duty, around, t),
        );
        self.sensor_celsius = nodes::lag(
            self.sensor_celsius,
            seconds,
            self.sensor_lag_s,
            (self.contents_celsius, contents),
        );
        (self.heater_celsius, self.contents_celsius) = (heater, contents);
    }

    /// Where a constant duty leads to in the end.
    pub(super) fn settled(&self, duty: f64, around: Surroundings) -> State {
        let heat_w = self.heater_w * duty;
        let contents = around.ambient_celsius + (heat_w + around.load_w) / self.loss_w_per_kelvin;
        [
            contents + heat_w / self.coupling_w_per_kelvin,
            contents,
            contents,
            0.0,
        ]
    }
}
