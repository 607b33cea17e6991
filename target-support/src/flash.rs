//! Tables that stay in flash.

use crate::Multiply16;
use sensor_math::table::{Packed, Uniform, Zones};

/// A table of any encoding: the array that it keeps its elements in, and the same table with its elements read through
/// another accessor and this target's multiply.
pub trait Stored {
    /// The array.
    type Elements;
    /// The table with accessor `A`.
    type In<A>;
}

impl<E, const SHIFT: u32, F, M> Stored for Uniform<E, SHIFT, F, M> {
    type Elements = E;
    type In<A> = Uniform<A, SHIFT, F, Multiply16>;
}

impl<E, const S1: u32, const S2: u32, const S3: u32, F, M> Stored for Zones<E, S1, S2, S3, F, M> {
    type Elements = E;
    type In<A> = Zones<A, S1, S2, S3, F, Multiply16>;
}

impl<E, const J: usize, F, M> Stored for Packed<E, J, F, M> {
    type Elements = E;
    type In<A> = Packed<A, J, F, Multiply16>;
}

/// A table that stays in flash, and the type that reads it there as the lookups want it
/// (`sensor_math::table::Access`). On the 8-bit target flash is another address space: a plain `static` would be
/// copied to RAM, and indexing a table in flash reads wrong bytes without a word. Everywhere else it is a plain `static`.
///
/// An array of `i16` or of `u8`; reading beyond the end gives 0. A crate that forbids `unsafe` may use it.
///
/// ```
/// #![forbid(unsafe_code)]
/// use sensor_math::table::Access;
/// target_support::flash_table!(Bytes: [u8; 3] = [7, 8, 9]);
/// let bytes: [u8; 4] = [0, 1, 2, 3].map(|index| Bytes.at(index));
/// assert_eq!(bytes, [7, 8, 9, 0]);
/// ```
#[cfg(not(target_arch = "avr"))]
#[macro_export]
macro_rules! flash_table {
    ($name:ident: $array:ty = $value:expr) => {
        /// Reads its table in flash.
        #[derive(Clone, Copy, Debug)]
        pub struct $name;

        impl $crate::Access<<$array as $crate::InFlash>::Element> for $name {
            #[inline(always)]
            fn at(&self, index: usize) -> <$array as $crate::InFlash>::Element {
                static KEPT_IN_FLASH: $array = $value;
                $crate::Access::at(&KEPT_IN_FLASH, index)
            }
        }
    };
}

/// As on the other targets, with the table placed in flash.
#[cfg(target_arch = "avr")]
#[allow_internal_unsafe] // the macro's own: the table is placed where the accessor reads
#[macro_export]
macro_rules! flash_table {
    ($name:ident: $array:ty = $value:expr) => {
        /// Reads its table in flash.
        #[derive(Clone, Copy, Debug)]
        pub struct $name;

        impl $crate::Access<<$array as $crate::InFlash>::Element> for $name {
            #[inline(always)]
            fn at(&self, index: usize) -> <$array as $crate::InFlash>::Element {
                #[unsafe(link_section = ".progmem.data")]
                static KEPT_IN_FLASH: $array = $value;
                // SAFETY: placed where the accessor reads.
                unsafe { <$array as $crate::InFlash>::element(&raw const KEPT_IN_FLASH, index) }
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
    /// `table` must be a `static` placed in `.progmem.data`.
    #[cfg(target_arch = "avr")]
    unsafe fn element(table: *const Self, index: usize) -> Self::Element;
}

macro_rules! in_flash {
    ($($element:ident),*) => {$(
        impl<const N: usize> InFlash for [$element; N] {
            type Element = $element;
            #[cfg(target_arch = "avr")]
            #[inline(always)]
            unsafe fn element(table: *const Self, index: usize) -> $element {
                if index >= N {
                    return 0;
                }
                let element = table.cast::<$element>().wrapping_add(index);
                // SAFETY: inside the table, which the caller has placed.
                unsafe { crate::avr::flash::$element(element) }
            }
        }
    )*};
}
in_flash!(i16, u8);
