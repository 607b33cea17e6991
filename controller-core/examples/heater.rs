//! PI around a simulated heater: a kilogram of water, 500 W, losing 2 W a kelvin to a room at 20 degC.
//!
//!     cargo run --example heater

use controller_core::gain::Mantissas;
use controller_core::law::{Action, PiState, Settings, pi};
use controller_core::setpoint::SetPoint;
use controller_core::word::Native;

fn main() {
    // 10 % a kelvin (a temperature word is 1/128 K, a duty word 1/32767), integral time 600 s at 1 s a sample
    const SETTINGS: Settings<i16, 8> = Settings::<i16, 8>::constant(
        Mantissas {
            kp: 6554,
            ki: 2796,
            kd: 0,
        },
        0,
        32_767,
        Action::Reverse,
    );
    let set_point = SetPoint::<i16>::constant(60 * 128);
    let mut law = PiState::start(&SETTINGS);
    let mut celsius = 20.0_f64;
    for second in 0..=3600 {
        let duty =
            pi::step::<i16, 8, Native>(&SETTINGS, &mut law, set_point, (celsius * 128.0) as i16);
        celsius += (500.0 * f64::from(duty) / 32_767.0 - 2.0 * (celsius - 20.0)) / 4186.0;
        if second % 300 == 0 {
            println!(
                "{second:5} s {celsius:6.2} degC {:5.1} %",
                f64::from(duty) / 327.67
            );
        }
    }
    assert!((celsius - 60.0).abs() < 0.1, "it settles at the set point");
}
