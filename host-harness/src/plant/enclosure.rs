//! A closed box with warm parts, the air around them, and fans that blow outside air through.
//!
//! Parts to air: G = still + blown * flow^0.8 (forced convection over surfaces, turbulent: the exponent of
//! the Dittus-Boelter correlation, as lumped models use it). Air to surroundings: leak + ventilation * flow
//! (carried heat is proportional to the mass flow).

use super::Surroundings;
use super::fan::Fan;

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
        let air = self.air_joule_per_kelvin
            / (self.still_w_per_kelvin
                + self.blown_w_per_kelvin
                + self.leak_w_per_kelvin
                + self.ventilation_w_per_kelvin);
        air.min(self.sensor_lag_s).min(self.fan.lag_s)
    }

    fn slopes(
        &self,
        mass: f64,
        air: f64,
        sensor: f64,
        flow: f64,
        around: Surroundings,
    ) -> [f64; 3] {
        let inner = (self.still_w_per_kelvin
            + self.blown_w_per_kelvin * flow.powf(CONVECTION_EXPONENT))
            * (mass - air);
        let outer = (self.leak_w_per_kelvin + self.ventilation_w_per_kelvin * flow)
            * (air - around.ambient_celsius);
        [
            (around.load_w - inner) / self.mass_joule_per_kelvin,
            (inner - outer) / self.air_joule_per_kelvin,
            (air - sensor) / self.sensor_lag_s,
        ]
    }

    /// One short step: the fan exactly, the temperatures by the midpoint rule.
    pub fn advance(&mut self, seconds: f64, duty: f64, around: Surroundings) {
        self.fan.advance(seconds, duty);
        let flow = self.fan.speed.max(0.0);
        let a = self.slopes(
            self.mass_celsius,
            self.air_celsius,
            self.sensor_celsius,
            flow,
            around,
        );
        let half = 0.5 * seconds;
        let b = self.slopes(
            self.mass_celsius + half * a[0],
            self.air_celsius + half * a[1],
            self.sensor_celsius + half * a[2],
            flow,
            around,
        );
        self.mass_celsius += seconds * b[0];
        self.air_celsius += seconds * b[1];
        self.sensor_celsius += seconds * b[2];
    }

    /// Air temperature that a constant flow share leads to in the end, degC: all heat goes out by leak and flow.
    #[must_use]
    pub fn settled_celsius(&self, flow: f64, around: Surroundings) -> f64 {
        around.ambient_celsius
            + around.load_w / (self.leak_w_per_kelvin + self.ventilation_w_per_kelvin * flow)
    }
}
