//! How good a sensor really is: resolution, the best resistor, self-heating, the error budget, a
//! plausibility check with two measured points, and what sampling does to hum and ripple.

pub mod alias;
pub mod budget;
pub mod check;
pub mod resistor;

use sensor_math::Sensor;
use sensor_math::divider::{Divider, Side};

/// Power in the sensor itself, watt, at a sensor resistance in ohm and a voltage across the divider.
///
/// At most `V^2 / (4 R)` for a divider resistor `R` and no other, reached when the two are equal
/// (maximum power transfer).
#[must_use]
pub fn sensor_watts(divider: &Divider, supply_volts: f64, sensor_ohm: f64) -> f64 {
    let ratio = divider.ratio_at(sensor_ohm);
    let across = match divider.side {
        Side::Supply => 1.0 - ratio,
        Side::Ground => ratio,
    };
    // Of the network's voltage, the part that is not across the series resistor.
    let network = divider.network_ohm(sensor_ohm);
    let volts = supply_volts * across * (network - divider.series_ohm) / network;
    volts * volts / sensor_ohm
}

/// Rise of the sensor above its surroundings, kelvin. Source: IEC 60539-1, definition of the dissipation
/// factor.
#[must_use]
pub fn self_heating_kelvin(watts: f64, dissipation_w_per_kelvin: f64) -> f64 {
    watts / dissipation_w_per_kelvin
}

/// Degrees that one ADC step stands for at a temperature.
#[must_use]
pub fn celsius_per_lsb(sensor: &Sensor, celsius: f64) -> f64 {
    let position = sensor.position_at(celsius);
    (sensor.celsius_at_position(position + 0.5) - sensor.celsius_at_position(position - 0.5)).abs()
}
