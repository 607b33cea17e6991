//! What the target's own C compiler made: the float baseline.

use crate::float::{Gains, State};

mod raw {
    use super::{Gains, State};
    #[link(name = "hush_c", kind = "static", modifiers = "-bundle")]
    // The C libraries right behind it, before Rust's own helpers.
    #[link(name = "m", kind = "static", modifiers = "-bundle")]
    #[link(name = "gcc", kind = "static", modifiers = "-bundle")]
    unsafe extern "C" {
        pub fn float_c_pi(gains: *const Gains, state: *mut State, set_point: f32, measurement: f32) -> f32;
        pub fn float_c_pid(gains: *const Gains, state: *mut State, set_point: f32, measurement: f32) -> f32;
        pub fn float_c_temperature(code: u16) -> f32;
    }
}

/// PI.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn subject_c_pi(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    // SAFETY: both structures have the layout of the C ones.
    unsafe { raw::float_c_pi(gains, state, set_point, measurement) }
}

/// PID.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn subject_c_pid(gains: &Gains, state: &mut State, set_point: f32, measurement: f32) -> f32 {
    // SAFETY: as above.
    unsafe { raw::float_c_pid(gains, state, set_point, measurement) }
}

/// Temperature.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn subject_c_temperature(code: u16) -> f32 {
    // SAFETY: no preconditions.
    unsafe { raw::float_c_temperature(code) }
}

/// The error cell that the Arm C library's logarithm asks for.
#[cfg(target_arch = "arm")]
#[unsafe(no_mangle)]
extern "C" fn __errno() -> *mut i32 {
    static mut CELL: i32 = 0;
    &raw mut CELL
}
