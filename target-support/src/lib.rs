//! What small targets need beside `sensor-math` and `controller-core`, and the only place with `unsafe`.
//!
//! | item | meaning |
//! |---|---|
//! | [`Multiply16`] | the target's 16x16 to 32 multiply and interpolation, for the law, the drive and the lookups |
//! | [`flash_table!`] | a table that stays in flash, and the type that reads it there |
//! | [`Stored`], [`Multiplied`] | a table, or a law, as the two above make it |
//! | feature `helpers` | the routines that compiled code calls by name where no C library brings them |
//!
//! On a machine that multiplies by itself (and on a host) [`Multiply16`] is that multiply and a flash table is a `static`, so
//! the same firmware builds everywhere:
//!
//! ```
//! use sensor_math::table::{Lookup, Uniform};
//! use target_support::{Stored, flash_table};
//! type Table = Uniform<[i16; 3], 3, fixed::types::extra::U7>;
//! const TABLE: Table = Uniform::from_knots(100, 115, [2560, 2816, 3200]);
//! flash_table!(Knots: <Table as Stored>::Elements = *TABLE.elements());
//! const IN_FLASH: <Table as Stored>::In<Knots> = TABLE.read_through(Knots);
//! assert_eq!(IN_FLASH.lookup(104), TABLE.lookup(104));
//! ```
#![no_std]
#![cfg_attr(
    any(target_arch = "msp430", target_arch = "avr"),
    feature(asm_experimental_arch)
)]
// So that `flash_table!` may be used in a crate that forbids `unsafe`.
#![cfg_attr(
    target_arch = "avr",
    feature(allow_internal_unsafe),
    allow(internal_features)
)]

#[cfg(target_arch = "avr")]
mod avr;
#[cfg(target_arch = "msp430")]
mod msp430;
#[cfg(not(any(target_arch = "msp430", target_arch = "avr")))]
mod native;

#[cfg(target_arch = "avr")]
pub use avr::Multiply16;
#[cfg(target_arch = "msp430")]
pub use msp430::Multiply16;
#[cfg(not(any(target_arch = "msp430", target_arch = "avr")))]
pub use native::Multiply16;

mod flash;
pub use flash::{InFlash, Stored};

use controller_core::station::{Pi, Pid};

/// The same law with this target's multiply: `<Pi as Multiplied>::Law`.
pub trait Multiplied {
    /// It.
    type Law;
}

impl<M> Multiplied for Pi<M> {
    type Law = Pi<Multiply16>;
}

impl<const K: u32, M> Multiplied for Pid<K, M> {
    type Law = Pid<K, Multiply16>;
}

#[doc(hidden)]
pub use sensor_math::table::Access;

#[cfg(test)]
mod tests;

/// README's example, word for word.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
