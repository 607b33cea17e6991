//! What the target's own C compiler made: the float baseline.

use crate::float::{Gains, State};

mod raw {
    use super::{Gains, State};
    #[link(name = "hush_c", kind = "static", modifiers = "-bundle")]
    unsafe extern "C" {
        pub fn float_c_pi(gains: *const Gains, state: *mut State, set_point: f32, measurement: f32) -> f32;
        pub fn float_c_pid(gains: *const Gains, state: *mut State, set_point: f32, measurement: f32) -> f32;
        pub fn float_c_temperature(code: u16) -> f32;
    }
}

/// PI.
#[inline(always)]
pub fn pi(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    // SAFETY: both structures have the layout of the C ones.
    unsafe { raw::float_c_pi(gains, state, set_point, measurement) }
}

/// PID.
#[inline(always)]
pub fn pid(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    // SAFETY: as above.
    unsafe { raw::float_c_pid(gains, state, set_point, measurement) }
}

/// Temperature.
#[inline(always)]
pub fn temperature(code: u16) -> f32 {
    // SAFETY: no preconditions.
    unsafe { raw::float_c_temperature(code) }
}
