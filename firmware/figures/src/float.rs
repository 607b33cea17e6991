//! Baseline: the same laws and the same temperature in single-precision float, as a practitioner would write them with
//! no integers at hand.

use crate::measure::Value;

/// Gains in duty per degree.
#[repr(C)]
pub struct Gains {
    kp: f32,
    ki: f32,
    kd: f32,
    lo: f32,
    hi: f32,
}

/// Integrator and filtered measurement.
#[repr(C)]
pub struct State {
    integral: f32,
    filtered: f32,
}

/// Gains of the demo in float.
pub const DEMO: Gains = Gains {
    kp: 0.0198,
    ki: 0.000_039,
    kd: 0.0763,
    lo: 0.0,
    hi: 1.0,
};
/// Starting state.
pub const START: State = State {
    integral: 0.5,
    filtered: 60.0,
};

impl Value for f32 {
    #[inline(never)]
    fn temperature(counts: i16) -> Self {
        f32::from(counts) * (1.0 / 128.0)
    }
    #[inline(never)]
    fn duty(self) -> i16 {
        (self * 32767.0) as i16
    }
}

#[inline(always)]
fn clamp(x: f32, lo: f32, hi: f32) -> f32 {
    if x < lo {
        lo
    } else if x > hi {
        hi
    } else {
        x
    }
}

/// PI.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn float_rust_pi(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    let error = measurement - set_point;
    let demand = clamp(gains.kp * error + state.integral, gains.lo, gains.hi);
    state.integral = clamp(state.integral + gains.ki * error, gains.lo, gains.hi);
    demand
}

/// PID with filtered derivative of the measurement.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn float_rust_pid(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    let error = measurement - set_point;
    let slope = measurement - state.filtered;
    state.filtered += slope * 0.125;
    let demand = clamp(
        gains.kp * error + gains.kd * slope + state.integral,
        gains.lo,
        gains.hi,
    );
    state.integral = clamp(state.integral + gains.ki * error, gains.lo, gains.hi);
    demand
}

/// Temperature of a 10 kohm thermistor (B = 3950) at the ground side of a 10 kohm divider, 10-bit converter.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn float_rust_temperature(code: u16) -> f32 {
    if code == 0 {
        return 150.0;
    }
    if code >= 1023 {
        return -40.0;
    }
    let ratio = f32::from(code) / f32::from(1024 - code);
    let celsius = 1.0 / (1.0 / 298.15 + libm::logf(ratio) * (1.0 / 3950.0)) - 273.15;
    clamp(celsius, -40.0, 150.0)
}

/// A temperature as the checksum takes it.
#[inline(never)]
pub fn counts(celsius: f32) -> i16 {
    (celsius * 128.0) as i16
}
