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
//! | `Multiply16` | the target's 16x16 to 32 multiply and interpolation, for the law and the lookups |
//! | `flash_table!` | a table that stays in flash, and the accessor that reads it there |
//!
//! On hardware a practitioner keeps the start-up and `Multiply16` and replaces `console` and `exchange` by pins.
#![no_std]
#![cfg_attr(
    any(target_arch = "msp430", target_arch = "avr"),
    feature(asm_experimental_arch)
)]

use controller_core::station::{Pi, Pid};
use sensor_math::table::{Packed, Uniform, Zones};

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(target_arch = "msp430")]
mod msp430;
#[cfg(target_arch = "riscv32")]
mod riscv32;
#[cfg(target_arch = "arm")]
mod thumbv6m;

#[cfg(any(target_arch = "arm", target_arch = "riscv32"))]
mod native;
#[cfg(not(target_arch = "msp430"))]
mod serial;

#[cfg(target_arch = "avr")]
use avr::receive as machine_receive;
#[cfg(target_arch = "riscv32")]
use riscv32::receive as machine_receive;
#[cfg(target_arch = "arm")]
use thumbv6m::receive as machine_receive;

#[cfg(any(target_arch = "arm", target_arch = "riscv32"))]
pub use native::Multiply16;
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

/// The same law with this target's multiply: `<firmware::Law as Multiplied>::Law`.
pub trait Multiplied {
    /// It.
    type Law;
}

impl Multiplied for Pi {
    type Law = Pi<Multiply16>;
}

impl<const K: u32> Multiplied for Pid<K> {
    type Law = Pid<K, Multiply16>;
}

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

/// The array that a table of any encoding keeps its elements in: `<firmware::Table as Stored>::Elements`.
pub trait Stored {
    /// It.
    type Elements;
}

impl<A, const SHIFT: u32, F, M> Stored for Uniform<A, SHIFT, F, M> {
    type Elements = A;
}

impl<A, const S1: u32, const S2: u32, const S3: u32, F, M> Stored for Zones<A, S1, S2, S3, F, M> {
    type Elements = A;
}

impl<A, const J: usize, F, M> Stored for Packed<A, J, F, M> {
    type Elements = A;
}

/// A table that stays in flash, and the type that reads it there as the lookups want it
/// (`sensor_math::table::Access`). On the 8-bit target flash is another address space: a plain `static` would be
/// copied to RAM, and indexing a table in flash reads wrong bytes without a word.
///
/// ```text
/// board::flash_table!(Elements: <firmware::Table as Stored>::Elements = *firmware::TABLE.elements());
/// let table = firmware::TABLE.read_through::<_, Multiply16>(Elements);
/// ```
///
/// An array of `i16` or of `u8`; reading beyond the end gives 0.
#[macro_export]
macro_rules! flash_table {
    ($name:ident: $array:ty = $value:expr) => {
        /// Reads its table in flash.
        #[derive(Clone, Copy, Debug)]
        pub struct $name;

        impl $crate::Access<<$array as $crate::InFlash>::Element> for $name {
            #[inline(always)]
            fn at(&self, index: usize) -> <$array as $crate::InFlash>::Element {
                #[cfg_attr(target_arch = "avr", unsafe(link_section = ".progmem.data"))]
                static TABLE: $array = $value;
                // SAFETY: placed where the accessor reads.
                unsafe { <$array as $crate::InFlash>::element(&raw const TABLE, index) }
            }
        }
    };
}

/// Arrays that [`flash_table!`] places and reads.
pub trait InFlash {
    /// What it holds.
    type Element;
    /// The element at an index, 0 beyond the end.
    ///
    /// # Safety
    /// `table` must be a `static`, on the 8-bit target placed in `.progmem.data`.
    unsafe fn element(table: *const Self, index: usize) -> Self::Element;
}

macro_rules! in_flash {
    ($($element:ident),*) => {$(
        impl<const N: usize> InFlash for [$element; N] {
            type Element = $element;
            #[inline(always)]
            unsafe fn element(table: *const Self, index: usize) -> $element {
                if index >= N {
                    return 0;
                }
                let element = table.cast::<$element>().wrapping_add(index);
                // SAFETY: inside the table, which the caller has placed.
                unsafe {
                    #[cfg(target_arch = "avr")]
                    return flash::$element(element);
                    #[cfg(not(target_arch = "avr"))]
                    return *element;
                }
            }
        }
    )*};
}
in_flash!(i16, u8);

#[doc(hidden)]
pub use sensor_math::table::Access;
