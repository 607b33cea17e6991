//! What the target's own C compiler made: the float baseline, and the C file pairs of the three cases.

use crate::float::{Gains, State};
use exercise::checksum::Checksum;
use exercise::{cases, laws};

mod raw {
    use super::{Gains, State};
    #[link(name = "hush_c", kind = "static", modifiers = "-bundle")]
    // The C libraries right behind it, before Rust's own helpers.
    #[link(name = "m", kind = "static", modifiers = "-bundle")]
    #[link(name = "gcc", kind = "static", modifiers = "-bundle")]
    unsafe extern "C" {
        pub fn float_c_pi(
            gains: *const Gains,
            state: *mut State,
            set_point: f32,
            measurement: f32,
        ) -> f32;
        pub fn float_c_pid(
            gains: *const Gains,
            state: *mut State,
            set_point: f32,
            measurement: f32,
        ) -> f32;
        pub fn float_c_temperature(code: u16) -> f32;
        pub fn cool_pi_start(state: *mut super::PiState, first: i16);
        pub fn cool_pi_step(state: *mut super::PiState, set_point: i16, measurement: i16) -> i16;
        pub fn cool_pi_temperature(code: u16) -> i16;
        pub fn cool_pid_start(state: *mut super::PidState, first: i16);
        pub fn cool_pid_step(state: *mut super::PidState, set_point: i16, measurement: i16) -> i16;
        pub fn cool_pid_temperature(code: u16) -> i16;
        pub fn heat_pid_start(state: *mut super::PidState, first: i16);
        pub fn heat_pid_step(state: *mut super::PidState, set_point: i16, measurement: i16) -> i16;
        pub fn heat_pid_temperature(code: u16) -> i16;
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

/// State of a PI pair.
#[repr(C)]
#[derive(Default)]
pub struct PiState {
    integral: i32,
}

/// State of a PID pair.
#[repr(C)]
#[derive(Default)]
pub struct PidState {
    integral: i32,
    filtered: i32,
}

/// PI pair.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn c99_pi(_: &(), state: &mut PiState, set_point: i16, measurement: i16) -> i16 {
    // SAFETY: the layout of the C structure.
    unsafe { raw::cool_pi_step(state, set_point, measurement) }
}

/// PID pair.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn c99_pid(_: &(), state: &mut PidState, set_point: i16, measurement: i16) -> i16 {
    // SAFETY: the layout of the C structure.
    unsafe { raw::cool_pid_step(state, set_point, measurement) }
}

macro_rules! lookups {
    ($($name:ident = $routine:ident;)*) => {$(
        #[doc = "Lookup of a pair."]
        #[unsafe(no_mangle)]
        #[inline(never)]
        pub fn $name(code: u16) -> i16 {
            // SAFETY: no preconditions.
            unsafe { raw::$routine(code) }
        }
    )*};
}
lookups! {
    c99_uniform = cool_pi_temperature;
    c99_zones = cool_pid_temperature;
    c99_packed = heat_pid_temperature;
}

/// Random runs of the three pairs.
pub fn random_runs(steps: u32) -> [Checksum; 3] {
    let mut pi = PiState::default();
    let mut pid = PidState::default();
    let mut heat = PidState::default();
    // SAFETY: the layouts of the C structures.
    unsafe {
        raw::cool_pi_start(&mut pi, 0);
        raw::cool_pid_start(&mut pid, 0);
        raw::heat_pid_start(&mut heat, 0);
    }
    [
        cases::random_run(laws::SEED, steps, |set_point, measurement| {
            (c99_pi(&(), &mut pi, set_point, measurement), pi.integral)
        }),
        cases::random_run(laws::SEED, steps, |set_point, measurement| {
            (c99_pid(&(), &mut pid, set_point, measurement), pid.integral)
        }),
        cases::random_run(laws::SEED, steps, |set_point, measurement| {
            // SAFETY: as above.
            (
                unsafe { raw::heat_pid_step(&mut heat, set_point, measurement) },
                heat.integral,
            )
        }),
    ]
}

/// The error cell that the Arm C library's logarithm asks for.
#[cfg(target_arch = "arm")]
#[unsafe(no_mangle)]
extern "C" fn __errno() -> *mut i32 {
    static mut CELL: i32 = 0;
    &raw mut CELL
}
