//! A thermistor's table, built from physical numbers by the compiler, over the codes of a 10-bit converter.
//!
//!     cargo run --example codes

use fixed::types::extra::U7;
use sensor_math::Sensor;
use sensor_math::adc::Adc;
use sensor_math::curve::{Beta, Curve};
use sensor_math::divider::{Divider, Side};
use sensor_math::table::Uniform;
use sensor_math::thermometer::Thermometer;

const SENSOR: Sensor = Sensor {
    adc: Adc::ratiometric(10),
    divider: Divider::new(Side::Supply, 10_000.0),
    curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
};
const KNOTS: usize = Uniform::<(), 3, U7>::knots_for(&SENSOR, -10.0, 100.0);
const TABLE: Uniform<[i16; KNOTS], 3, U7> = Uniform::on_curve(&SENSOR, -10.0, 100.0);

fn main() {
    let probe = Thermometer::new(TABLE, SENSOR.limits_or_panic(-10.0, 100.0));
    println!(
        "{} bytes, at most {:.3} K off",
        2 * KNOTS,
        TABLE.worst_error_celsius(&SENSOR)
    );
    for code in (0..1024).step_by(64) {
        match probe.read(code) {
            Ok(celsius) => println!("{code:4} {celsius:7.2} degC"),
            Err(fault) => println!("{code:4} {}", fault.text()),
        }
    }
}
