//! Baseline: the same laws with the operators of the `fixed` crate, which is what one writes first with it.

use crate::measure::Value;
use fixed::types::I16F16;

/// Gains in duty per degree.
pub struct Gains {
    kp: I16F16,
    ki: I16F16,
    kd: I16F16,
    lo: I16F16,
    hi: I16F16,
}

/// Integrator and filtered measurement.
pub struct State {
    integral: I16F16,
    filtered: I16F16,
}

/// Gains of the demo, duty in per cent so that ki does not vanish.
pub const DEMO: Gains = Gains {
    kp: I16F16::lit("1.98"),
    ki: I16F16::lit("0.0039"),
    kd: I16F16::lit("7.63"),
    lo: I16F16::ZERO,
    hi: I16F16::lit("100"),
};
/// Starting state.
pub const START: State = State {
    integral: I16F16::lit("50"),
    filtered: I16F16::lit("60"),
};

impl Value for I16F16 {
    #[inline(never)]
    fn temperature(counts: i16) -> Self {
        I16F16::from_bits((counts as i32) << 9)
    }
    #[inline(never)]
    fn duty(self) -> i16 {
        (self.to_bits() >> 8) as i16
    }
}

/// PI.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn fixed_pi(
    gains: &Gains,
    state: &mut State,
    set_point: I16F16,
    measurement: I16F16,
) -> I16F16 {
    let error = measurement.saturating_sub(set_point);
    let demand = gains
        .kp
        .saturating_mul(error)
        .saturating_add(state.integral)
        .clamp(gains.lo, gains.hi);
    state.integral = state
        .integral
        .saturating_add(gains.ki.saturating_mul(error))
        .clamp(gains.lo, gains.hi);
    demand
}

/// PID with filtered derivative of the measurement.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn fixed_pid(
    gains: &Gains,
    state: &mut State,
    set_point: I16F16,
    measurement: I16F16,
) -> I16F16 {
    let error = measurement.saturating_sub(set_point);
    let slope = measurement.saturating_sub(state.filtered);
    state.filtered = state.filtered.saturating_add(slope >> 3);
    let demand = gains
        .kp
        .saturating_mul(error)
        .saturating_add(gains.kd.saturating_mul(slope))
        .saturating_add(state.integral)
        .clamp(gains.lo, gains.hi);
    state.integral = state
        .integral
        .saturating_add(gains.ki.saturating_mul(error))
        .clamp(gains.lo, gains.hi);
    demand
}
