//! Simulated plants: what the controller is tried on before anything is flashed.
//!
//! Two thermal nodes each, a lagging sensor and a lagging actuator. The parameters come from the design
//! file's `[plant]` section; the scenario changes load and surroundings on the way.

pub mod converter;
pub mod enclosure;
pub mod fan;
pub mod sound;
pub mod tachometer;
pub mod vessel;

use enclosure::Enclosure;
use vessel::Vessel;

/// Longest step of the integration, seconds: a tenth of the fastest time constant a design may hold is
/// shorter still and then taken instead.
const LONGEST_STEP_S: f64 = 0.25;

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
        let steps = (seconds / (0.1 * fastest).min(LONGEST_STEP_S))
            .ceil()
            .max(1.0);
        let step = seconds / steps;
        for _ in 0..steps as u64 {
            match self {
                Plant::Enclosure(p) => p.advance(step, duty, around),
                Plant::Vessel(p) => p.advance(step, duty, around),
            }
        }
    }

    /// The temperature that matters (air of the box, contents of the vessel), degC.
    #[must_use]
    pub fn celsius(&self) -> f64 {
        match self {
            Plant::Enclosure(p) => p.air_celsius,
            Plant::Vessel(p) => p.contents_celsius,
        }
    }

    /// What the sensor has come to, degC.
    #[must_use]
    pub fn sensor_celsius(&self) -> f64 {
        match self {
            Plant::Enclosure(p) => p.sensor_celsius,
            Plant::Vessel(p) => p.sensor_celsius,
        }
    }

    /// Speed of the first fan as a share of full speed; 0 for a plant without fans.
    #[must_use]
    pub fn fan_speed(&self) -> f64 {
        match self {
            Plant::Enclosure(p) => p.fan.speed,
            Plant::Vessel(_) => 0.0,
        }
    }
}
