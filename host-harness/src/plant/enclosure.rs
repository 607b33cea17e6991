//! A closed box with warm parts, the air around them, and fans that blow outside air through.
//!
//! Parts to air: G = still + blown * flow^0.8 (forced convection over surfaces, turbulent: the exponent of
//! the Dittus-Boelter correlation, as lumped models use it). Air to surroundings: leak + ventilation * flow
//! (carried heat is proportional to the mass flow).

use super::nodes::{self, Balance};
use super::{BODY, NODE, SENSOR, SPEED, State, Surroundings};
use crate::plant::fan::Fan;

/// Exponent of the convective conductance in air flow.
pub const CONVECTION_EXPONENT: f64 = 0.8;

/// The box.
#[derive(Clone, Debug, PartialEq)]
pub struct Enclosure {
    /// Heat capacity of the parts, J/K.
    pub mass_joule_per_kelvin: f64,
    /// Heat capacity of the air (and what follows it at once), J/K.
    pub air_joule_per_kelvin: f64,
    /// Parts to air with still air, W/K.
    pub still_w_per_kelvin: f64,
    /// What full flow adds, W/K.
    pub blown_w_per_kelvin: f64,
    /// Air to surroundings without flow, W/K.
    pub leak_w_per_kelvin: f64,
    /// What full flow adds, W/K.
    pub ventilation_w_per_kelvin: f64,
    /// Time constant of the sensor, seconds.
    pub sensor_lag_s: f64,
    /// The fans, which all turn alike.
    pub fan: Fan,
    /// Parts, degC.
    pub mass_celsius: f64,
    /// Air, degC.
    pub air_celsius: f64,
    /// Sensor, degC.
    pub sensor_celsius: f64,
}

impl Enclosure {
    /// Shortest time constant, seconds.
    #[must_use]
    pub fn fastest_s(&self) -> f64 {
        let inner = self.still_w_per_kelvin + self.blown_w_per_kelvin;
        let outer = self.leak_w_per_kelvin + self.ventilation_w_per_kelvin;
        (self.air_joule_per_kelvin / (inner + outer))
            .min(self.mass_joule_per_kelvin / inner)
            .min(self.sensor_lag_s)
            .min(self.fan.lag_s)
    }

    /// Parts to air, and air to surroundings, at a flow (share of full), W/K.
    fn conductances(&self, flow: f64) -> (f64, f64) {
        (
            self.still_w_per_kelvin + self.blown_w_per_kelvin * flow.powf(CONVECTION_EXPONENT),
            self.leak_w_per_kelvin + self.ventilation_w_per_kelvin * flow,
        )
    }

    /// Parts and air with conductances `(inner, outer)`.
    fn balance(
        &self,
        (inner, outer): (f64, f64),
        around: Surroundings,
        [mass, air]: [f64; 2],
    ) -> Balance {
        let (of_mass, of_air) = (self.mass_joule_per_kelvin, self.air_joule_per_kelvin);
        let in_w = inner * (mass - air);
        let out_w = outer * (air - around.ambient_celsius);
        Balance {
            slopes: [(around.load_w - in_w) / of_mass, (in_w - out_w) / of_air],
            jacobian: [
                [-inner / of_mass, inner / of_mass],
                [inner / of_air, -(inner + outer) / of_air],
            ],
        }
    }

    pub(super) fn slopes(&self, state: &State, duty: f64, around: Surroundings) -> State {
        let conductances = self.conductances(state[SPEED].max(0.0));
        let [mass, air] = self
            .balance(conductances, around, [state[BODY], state[NODE]])
            .slopes;
        [
            mass,
            air,
            (state[NODE] - state[SENSOR]) / self.sensor_lag_s,
            (self.fan.speed_at(duty) - state[SPEED]) / self.fan.lag_s,
        ]
    }

    /// One short step: fan and sensor exactly, the temperatures between them by ROS2 (`nodes`), with the fan's
    /// speeds at both ends of the step.
    pub(super) fn advance(&mut self, seconds: f64, duty: f64, around: Surroundings) {
        let at_start = self.conductances(self.fan.speed.max(0.0));
        self.fan.advance(seconds, duty);
        let at_end = self.conductances(self.fan.speed.max(0.0));
        let [mass, air] = nodes::step(
            [self.mass_celsius, self.air_celsius],
            seconds,
            |t| self.balance(at_start, around, t),
            |t| self.balance(at_end, around, t),
        );
        self.sensor_celsius = nodes::lag(
            self.sensor_celsius,
            seconds,
            self.sensor_lag_s,
            (self.air_celsius, air),
        );
        (self.mass_celsius, self.air_celsius) = (mass, air);
    }

    /// Where a constant speed leads to in the end: all heat goes out through the air, by leak and flow.
    pub(super) fn settled(&self, speed: f64, around: Surroundings) -> State {
        let (inner, outer) = self.conductances(speed.max(0.0));
        let air = around.ambient_celsius + around.load_w / outer;
        [air + around.load_w / inner, air, air, speed]
    }
}
