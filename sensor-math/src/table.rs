//! Lookup tables: code in, temperature word out.
//!
//! | encoding | lookup | bytes for 10 bits, 10 kohm NTC over 10 kohm, -10 to 100 degC, 0.1 degC |
//! |---|---|---|
//! | [`Uniform`] | constant time, the fastest; needs no generator | on the curve 190, minimax 96, and 4 of header |
//! | [`Zones`] | constant time, a compare or two more | 38 and 8 of header |
//! | [`Packed`] | scanned | fewest |
//!
//! Common to all: the lookup clamps the code to its own range, so that every `u16` gives a value and
//! no index can leave its table; it does one multiplication and no division; and it rounds to the
//! nearest word (ties towards hotter; a falling [`Packed`] table counts downwards, and its ties go towards
//! colder). Values outside the range are not temperatures:
//! [`Thermometer`](crate::thermometer::Thermometer) turns those codes into faults.

mod packed;
mod uniform;
mod zones;

pub use packed::{Jump, Packed};
pub use uniform::Uniform;
pub use zones::{Zones, lookup_in_zones};

use fixed::types::extra::{LeEqU16, Unsigned};

/// Largest difference between neighbouring knots, so that a target's own [`Interpolate`] may keep a
/// 16-bit accumulator: 2^14 - 1, at 1/128 degC almost 128 degC.
pub const DIFFERENCE_MAX: i16 = 0x3fff;

/// Where a table's elements are. The default is memory: arrays, slices and references to them. A
/// target whose flash is a separate address space implements it for a type that reads there.
pub trait Access<T> {
    /// The element at an index. Lookups ask only for indices within the length that the table's
    /// constructor was given; beyond it any value will do, but not a panic.
    fn at(&self, index: usize) -> T;
}

impl<T: Copy + Default, const N: usize> Access<T> for [T; N] {
    #[inline]
    fn at(&self, index: usize) -> T {
        match self.get(index) {
            Some(element) => *element,
            None => T::default(),
        }
    }
}

impl<T: Copy + Default> Access<T> for [T] {
    #[inline]
    fn at(&self, index: usize) -> T {
        match self.get(index) {
            Some(element) => *element,
            None => T::default(),
        }
    }
}

impl<T, A: Access<T> + ?Sized> Access<T> for &A {
    #[inline]
    fn at(&self, index: usize) -> T {
        (**self).at(index)
    }
}

/// The one multiplication of a lookup, so that a target can supply its own. [`Native`] is the
/// default; another implementation must return the same bits.
pub trait Interpolate {
    /// `floor((difference * fraction + 2^(SHIFT-1)) / 2^SHIFT)`, and `0` for `SHIFT = 0`.
    ///
    /// `abs(difference) <= DIFFERENCE_MAX`, `fraction < 2^SHIFT`, `SHIFT <= 15`.
    #[inline]
    fn interpolate<const SHIFT: u32>(difference: i16, fraction: u16) -> i16 {
        native_interpolate(difference, fraction, SHIFT)
    }

    /// The value at `fraction` of the way from `left` to `right`, whose difference is as above: `left` and what
    /// [`Interpolate::interpolate`] says of it.
    #[inline]
    fn between<const SHIFT: u32>(left: i16, right: i16, fraction: u16) -> i16 {
        left.wrapping_add(Self::interpolate::<SHIFT>(
            right.wrapping_sub(left),
            fraction,
        ))
    }

    /// `floor((difference * fraction + 2^(shift-1)) / 2^shift)` for a shift known only at run time,
    /// and `0` for `shift = 0`.
    ///
    /// `difference < 2^15`, `fraction < 2^shift`, `shift <= 15`.
    #[inline]
    fn interpolate_by(difference: u16, fraction: u16, shift: u8) -> u16 {
        let shift = shift as u32 & 15;
        let half = (1u32 << shift) >> 1;
        ((difference as u32)
            .wrapping_mul(fraction as u32)
            .wrapping_add(half)
            >> shift) as u16
    }
}

/// The compiler's own multiplication.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Native;

impl Interpolate for Native {}

#[inline]
const fn native_interpolate(difference: i16, fraction: u16, shift: u32) -> i16 {
    let half = (1i32 << shift) >> 1;
    ((difference as i32)
        .wrapping_mul(fraction as i32)
        .wrapping_add(half)
        >> shift) as i16
}

/// A lookup table of any encoding.
pub trait Lookup {
    /// Fraction bits of the temperature word, a type of the `fixed` crate: `U7` is 1/128 degC.
    type Frac: Unsigned + LeEqU16;

    /// Temperature word at a code; codes outside the table's range give the value at its nearer end.
    fn lookup(&self, code: u16) -> i16;
}

impl<T: Lookup + ?Sized> Lookup for &T {
    type Frac = T::Frac;

    #[inline]
    fn lookup(&self, code: u16) -> i16 {
        (**self).lookup(code)
    }
}

/// Whether neighbouring knots are near enough to each other.
const fn differences_fit(knots: &[i16]) -> bool {
    let mut i = 1;
    while i < knots.len() {
        let difference = knots[i] as i32 - knots[i - 1] as i32;
        if difference > DIFFERENCE_MAX as i32 || difference < -(DIFFERENCE_MAX as i32) {
            return false;
        }
        i += 1;
    }
    true
}

#[cfg(test)]
mod tests;
