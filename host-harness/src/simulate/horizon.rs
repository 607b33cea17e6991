//! How long a loop must be watched before anything can be said of it.

use crate::design::{Actuator, Design};
use crate::plant::Plant;
use crate::plant::enclosure::CONVECTION_EXPONENT;

/// Times of a design's loop, seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Horizon {
    /// The plant's slowest time constant, with its actuator at its least.
    pub plant_s: f64,
    /// Every other lag of the loop: between the plant's two bodies, sensor, fan or switch, one sample.
    pub lags_s: f64,
    /// How long a temperature must have stayed within its band before it counts as settled.
    pub stay_s: f64,
}

impl Horizon {
    /// Of a design.
    ///
    /// A loop with integral action around lags T1, T2, ... is at its limit of stability at the latest where
    /// w^2 = 1 / (sum of all products Ti Tj) (the characteristic polynomial of integral action alone; proportional action
    /// only makes it quicker). The slowest cycle it can keep up thus lasts at most 2 pi sqrt(S (T1 + S / 2)), S being the
    /// sum of all lags but the largest. Whoever has stayed within the band for half of that is not in such a cycle of more
    /// than the band. A maker who accepts a shorter time to settle thinks in shorter times: that is the upper limit.
    #[must_use]
    pub fn of(design: &Design) -> Self {
        let control = &design.control;
        let (plant_s, inner_s) = match &control.plant.plant {
            Plant::Enclosure(p) => {
                let flow = match &control.actuator {
                    Actuator::Fan(fan) if fan.floor >= p.fan.stall => fan.floor,
                    _ => 0.0,
                };
                let out = p.leak_w_per_kelvin + p.ventilation_w_per_kelvin * flow;
                let inner =
                    p.still_w_per_kelvin + p.blown_w_per_kelvin * flow.powf(CONVECTION_EXPONENT);
                two_bodies(p.mass_joule_per_kelvin, p.air_joule_per_kelvin, inner, out)
            }
            Plant::Vessel(p) => two_bodies(
                p.heater_joule_per_kelvin,
                p.contents_joule_per_kelvin,
                p.coupling_w_per_kelvin,
                p.loss_w_per_kelvin,
            ),
        };
        let actuator_s = match (&control.actuator, &control.plant.plant) {
            (Actuator::Heater(heater), _) => 0.5 * heater.window_s,
            (_, Plant::Enclosure(p)) => p.fan.lag_s,
            _ => 0.0,
        };
        let lags_s = inner_s
            + design.sensing.facts.lag_s
            + control.plant.plant.dead_time_s()
            + actuator_s
            + control.period_s;
        let slowest = std::f64::consts::TAU * (lags_s * (plant_s + 0.5 * lags_s)).sqrt();
        Self {
            plant_s,
            lags_s,
            stay_s: (0.5 * slowest)
                .min(control.accept.settling_s)
                .max(8.0 * control.period_s),
        }
    }
}

/// Slow and quick time constant of two bodies, one behind the other, of which one loses heat.
fn two_bodies(one: f64, other: f64, between: f64, out: f64) -> (f64, f64) {
    ((one + other) / out, one * other / (one + other) / between)
}
