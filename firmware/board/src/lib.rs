//! What differs between the four instruction sets, behind one set of names.
//!
//! A start-up file a target (`msp430.rs`, `avr.rs`, `thumbv6m.rs`, `riscv32.rs`) clears RAM, sets the stack and calls
//! the image's `application` function. Each offers the same items:
//!
//! | item | meaning |
//! |---|---|
//! | `initialise()` | clocks, counter, console |
//! | `counter()`, `elapsed(a, b)` | a free-running counter and the distance of two readings, in counter steps |
//! | `stack_pointer()` | for painting the stack |
//! | `console(byte)` | one byte to the simulator's console |
//! | `exchange(&out, &mut into)` | send `out` to the host, wait for `into`: the simulated pins |
//! | `finish()` | ends the simulation |
//!
//! On hardware a practitioner keeps the start-up and replaces `console` and `exchange` by pins. Multiplies, run-time helpers
//! and tables in flash are in `target-support`.
#![no_std]
#![cfg_attr(
    any(target_arch = "msp430", target_arch = "avr"),
    feature(asm_experimental_arch)
)]

// Only for what compiled code calls by name.
use target_support as _;

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(target_arch = "msp430")]
mod msp430;
#[cfg(target_arch = "riscv32")]
mod riscv32;
#[cfg(target_arch = "arm")]
mod thumbv6m;

#[cfg(not(target_arch = "msp430"))]
mod serial;

#[cfg(target_arch = "avr")]
use avr::receive as machine_receive;
#[cfg(target_arch = "riscv32")]
use riscv32::receive as machine_receive;
#[cfg(target_arch = "arm")]
use thumbv6m::receive as machine_receive;

#[cfg(not(target_arch = "msp430"))]
pub use serial::exchange;

#[cfg(target_arch = "avr")]
pub use avr::*;
#[cfg(target_arch = "msp430")]
pub use msp430::*;
#[cfg(target_arch = "riscv32")]
pub use riscv32::*;
#[cfg(target_arch = "arm")]
pub use thumbv6m::*;

unsafe extern "C" {
    /// End of the static variables, by the linker.
    #[cfg_attr(target_arch = "avr", link_name = "_end")]
    #[cfg_attr(not(target_arch = "avr"), link_name = "__bss_end")]
    static mut END_OF_STATICS: u8;
}
const PAINT: u8 = 0xA5;

/// Paints all RAM between the static variables and the stack, so that [`stack_used`] can tell how deep it went.
#[inline(always)]
pub fn paint_stack() {
    let mut at = (&raw mut END_OF_STATICS).addr();
    // Some bytes short of the stack pointer: this very loop may use them.
    let end = stack_pointer().wrapping_sub(16);
    while at < end {
        // SAFETY: RAM that nothing lives in yet.
        unsafe { (at as *mut u8).write_volatile(PAINT) };
        at = at.wrapping_add(1);
    }
}

/// Bytes of stack used since [`paint_stack`], from the top of RAM down to the deepest byte that changed.
#[inline(always)]
pub fn stack_used() -> u16 {
    let mut at = (&raw mut END_OF_STATICS).addr();
    // SAFETY: RAM; ends at the live stack at the latest.
    while unsafe { (at as *const u8).read_volatile() } == PAINT {
        at = at.wrapping_add(1);
    }
    stack_top().wrapping_sub(at) as u16
}
