//! Something heated: a heater with a mass of its own, contents, losses to the surroundings.

use super::Surroundings;

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
        (self.heater_joule_per_kelvin / self.coupling_w_per_kelvin).min(self.sensor_lag_s)
    }

    fn slopes(
        &self,
        heater: f64,
        contents: f64,
        sensor: f64,
        duty: f64,
        around: Surroundings,
    ) -> [f64; 3] {
        let inner = self.coupling_w_per_kelvin * (heater - contents);
        let outer = self.loss_w_per_kelvin * (contents - around.ambient_celsius);
        [
            (self.heater_w * duty - inner) / self.heater_joule_per_kelvin,
            (inner + around.load_w - outer) / self.contents_joule_per_kelvin,
            (contents - sensor) / self.sensor_lag_s,
        ]
    }

    /// One short step by the midpoint rule. `load_w` is heat from elsewhere (a lamp, a reaction).
    pub fn advance(&mut self, seconds: f64, duty: f64, around: Surroundings) {
        let a = self.slopes(
            self.heater_celsius,
            self.contents_celsius,
            self.sensor_celsius,
            duty,
            around,
        );
        let half = 0.5 * seconds;
        let b = self.slopes(
            self.heater_celsius + half * a[0],
            self.contents_celsius + half * a[1],
            self.sensor_celsius + half * a[2],
            duty,
            around,
        );
        self.heater_celsius += seconds * b[0];
        self.contents_celsius += seconds * b[1];
        self.sensor_celsius += seconds * b[2];
    }

    /// Temperature that a constant duty leads to in the end, degC.
    #[must_use]
    pub fn settled_celsius(&self, duty: f64, around: Surroundings) -> f64 {
        around.ambient_celsius + (self.heater_w * duty + around.load_w) / self.loss_w_per_kelvin
    }
}
