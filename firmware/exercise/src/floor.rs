//! The floor: the multiplies, the loads and the stores of a law and nothing else. No clamp, no rounding, no safety:
//! no correct law of that form can be cheaper, so a law's distance from its floor is what its guarantees cost.

/// Gains, one unsigned word each.
#[derive(Clone, Copy, Debug)]
pub struct Gains {
    /// Proportional.
    pub kp: u16,
    /// Integral.
    pub ki: u16,
    /// Derivative.
    pub kd: u16,
}

/// Integrator and derivative filter.
#[derive(Clone, Copy, Debug, Default)]
pub struct State {
    /// Integrator.
    pub integral: i32,
    /// Filter.
    pub filter: i32,
}

/// The upper word.
#[inline(always)]
fn upper(x: i32) -> i16 {
    (x >> 16) as i16
}

/// Two multiplies and an integrator.
#[inline(always)]
pub fn pi(
    multiply: impl Fn(u16, i16) -> i32,
    gains: &Gains,
    state: &mut State,
    set_point: i16,
    measurement: i16,
) -> i16 {
    let error = set_point.wrapping_sub(measurement) | 1;
    let p = upper(multiply(gains.kp, error));
    state.integral = state.integral.wrapping_add(multiply(gains.ki, error));
    p.wrapping_add(upper(state.integral))
}

/// One multiply and an integrator.
#[inline(always)]
pub fn one_product(
    multiply: impl Fn(u16, i16) -> i32,
    gains: &Gains,
    state: &mut State,
    set_point: i16,
    measurement: i16,
) -> i16 {
    let error = set_point.wrapping_sub(measurement) | 1;
    state.integral = state.integral.wrapping_add(multiply(gains.kp, error));
    upper(state.integral)
}

/// Three multiplies, an integrator and a filter.
#[inline(always)]
pub fn pid(
    multiply: impl Fn(u16, i16) -> i32,
    gains: &Gains,
    state: &mut State,
    set_point: i16,
    measurement: i16,
) -> i16 {
    let error = set_point.wrapping_sub(measurement) | 1;
    let rate = upper(state.filter).wrapping_sub(measurement) | 1;
    state.filter = state.filter.wrapping_sub(rate as i32);
    let p = upper(multiply(gains.kp, error)).wrapping_add(upper(multiply(gains.kd, rate)));
    state.integral = state.integral.wrapping_add(multiply(gains.ki, error));
    p.wrapping_add(upper(state.integral))
}
