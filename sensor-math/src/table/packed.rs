//! Free knots in the fewest bytes: segment widths are powers of two, and a segment says in two bits
//! how its width follows from the one before; each knot is one byte of difference from the knot
//! before.
//!
//! Two bits are enough because the best widths follow the curve's bend, which changes slowly: in the
//! demo designs neighbours never differ by more than a factor of two. A scan has to go through all
//! widths anyway, so a width that follows from the one before costs it nothing, and less than an
//! exponent of four bits, which would need a shift by a variable.

use super::{Access, Interpolate, Lookup, Native};
use core::marker::PhantomData;
use fixed::types::extra::{LeEqU16, Unsigned};

/// A place to begin the scan other than the start. Six bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jump {
    /// Codes from the table's first code.
    pub offset: u16,
    /// Differences summed up to here, in value units.
    pub climb: u16,
    /// Index of the segment that begins here, a multiple of four.
    pub segment: u8,
    /// Width exponent of the segment before.
    pub exponent: u8,
}

/// A packed table of `J` jumps and a run of bytes: first the width codes, two bits for each segment,
/// the first in the lowest bits; then the differences, one byte for each.
///
/// A segment spans as many codes as the one before (width code 0), twice as many (1), half (2) or a
/// quarter (3); the first follows from the exponent in the header. It spans `difference` value units,
/// up when temperature rises with the code, otherwise down. A value unit is `2^unit` temperature
/// words, because one byte at 1/128 degC would span only 2 degC. The first knot is a whole word, so
/// the grid of the others may lie anywhere.
///
/// A code below the first gives the value of the first knot, a code beyond the last segment that of
/// the last knot.
///
/// ```
/// use sensor_math::table::{Lookup, Packed};
/// use fixed::types::extra::U7;
/// // From code 100 and 20 degC (2560): 8 codes and 64 units of 1/16 degC, then 16 codes and 32 units.
/// const TABLE: Packed<[u8; 3], 0, U7> =
///     Packed::from_bytes(100, 2560, 2, Packed::<(), 0, U7>::shape(3, true, 3), [0b01_00, 64, 32], []);
/// assert_eq!(TABLE.lookup(100), 2560);
/// assert_eq!(TABLE.lookup(104), 2560 + 32 * 8);
/// assert_eq!(TABLE.lookup(116), 2560 + 64 * 8 + 16 * 8);
/// assert_eq!(TABLE.lookup(5000), 2560 + 96 * 8);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Packed<A, const J: usize, F, M = Native> {
    first: u16,
    origin: i16,
    segments: u8,
    shape: u8,
    bytes: A,
    jumps: [Jump; J],
    types: PhantomData<(F, M)>,
}

impl<A, const J: usize, F, M> Packed<A, J, F, M> {
    /// Bytes the lookup reads besides width codes, differences and jumps: first code, first value,
    /// number of segments, shape.
    pub const HEADER_BYTES: usize = 6;
    /// Bytes of a [`Jump`].
    pub const JUMP_BYTES: usize = 6;
    /// Largest value unit, as a power of two of temperature words.
    pub const UNIT_MAX: u32 = 7;
    /// Largest width exponent.
    pub const EXPONENT_MAX: u32 = 15;

    /// The header's shape byte: value unit `2^unit` words in bits 0 to 2, falling temperature in
    /// bit 3, width exponent before the first segment in bits 4 to 7.
    ///
    /// # Panics
    /// When `unit` is above 7 or `exponent` above 15.
    pub const fn shape(unit: u32, rising: bool, exponent: u32) -> u8 {
        assert!(
            unit <= Self::UNIT_MAX && exponent <= Self::EXPONENT_MAX,
            "unit is at most 7, the exponent at most 15"
        );
        unit as u8 | if rising { 0 } else { 8 } | (exponent as u8) << 4
    }

    /// Bytes of width codes for a number of segments.
    pub const fn code_bytes(segments: usize) -> usize {
        segments.div_ceil(4)
    }

    /// The stored bytes, width codes and differences, or what reads them.
    pub const fn elements(&self) -> &A {
        &self.bytes
    }

    /// The same table with its bytes read through another accessor and multiplied by another
    /// multiply: `bytes` must give the same values, e.g. out of flash.
    pub const fn read_through<B, M2>(&self, bytes: B) -> Packed<B, J, F, M2> {
        Packed {
            first: self.first,
            origin: self.origin,
            segments: self.segments,
            shape: self.shape,
            bytes,
            jumps: self.jumps,
            types: PhantomData,
        }
    }
}

impl<A, const J: usize, F, M> Packed<A, J, F, M> {
    /// A table of these `values`, which are looked at here, its bytes at `bytes`, which are the same.
    const fn checked(
        (first, origin): (u16, i16),
        (segments, shape): (u8, u8),
        values: &[u8],
        bytes: A,
        jumps: [Jump; J],
    ) -> Self {
        assert!(segments > 0, "a table needs a segment");
        let unit = (shape & 7) as u32;
        let mut exponent = (shape >> 4) as i32;
        let codes = Self::code_bytes(segments as usize);
        assert!(
            values.len() >= codes + segments as usize,
            "too few bytes for the segments"
        );
        let mut offset = 0u32;
        let mut climb = 0u32;
        let mut jump = 0;
        let mut i = 0;
        while i < segments as usize {
            if jump < J && jumps[jump].segment as usize == i {
                assert!(
                    i % 4 == 0
                        && jumps[jump].offset as u32 == offset
                        && jumps[jump].climb as u32 == climb
                        && jumps[jump].exponent as i32 == exponent,
                    "a jump does not stand at the start of its segment"
                );
                jump += 1;
            }
            exponent += match (values[i / 4] >> (i % 4 * 2)) & 3 {
                0 => 0,
                1 => 1,
                2 => -1,
                _ => -2,
            };
            assert!(
                exponent >= 0 && exponent <= Self::EXPONENT_MAX as i32,
                "a segment spans 1 to 2^15 codes"
            );
            offset += 1 << exponent;
            climb += values[codes + i] as u32;
            i += 1;
        }
        assert!(jump == J, "jumps must be in order and within the segments");
        assert!(
            first as u32 + offset <= 0x1_0000,
            "the segments leave the codes"
        );
        let height = (climb << unit) as i32;
        let end = if shape & 8 == 0 {
            origin as i32 + height
        } else {
            origin as i32 - height
        };
        assert!(
            end >= i16::MIN as i32 && end <= i16::MAX as i32,
            "a value does not fit its word"
        );
        Self {
            first,
            origin,
            segments,
            shape,
            bytes,
            jumps,
            types: PhantomData,
        }
    }
}

impl<'a, const J: usize, F: Unsigned, M> Packed<&'a [u8], J, F, M> {
    /// From bytes in a slice.
    ///
    /// # Panics
    /// As [`Packed::from_bytes`].
    pub const fn from_slice(
        first: u16,
        origin: i16,
        segments: u8,
        shape: u8,
        bytes: &'a [u8],
        jumps: [Jump; J],
    ) -> Self {
        Self::checked((first, origin), (segments, shape), bytes, bytes, jumps)
    }
}

impl<const N: usize, const J: usize, F: Unsigned, M> Packed<[u8; N], J, F, M> {
    /// From bytes as integers: what the host program emits.
    ///
    /// # Panics
    /// When there are no segments or too few bytes for them; when a width passes 2^15 codes or falls below one, all widths
    /// together pass the last code, values leave their word, or a jump does not stand at the start of
    /// its segment. In a `const` item, that does not compile.
    pub const fn from_bytes(
        first: u16,
        origin: i16,
        segments: u8,
        shape: u8,
        bytes: [u8; N],
        jumps: [Jump; J],
    ) -> Self {
        Self::checked((first, origin), (segments, shape), &bytes, bytes, jumps)
    }

    /// Bytes that the lookup reads: header, width codes, differences, jumps.
    pub const fn bytes(&self) -> usize {
        N + Self::HEADER_BYTES + J * Self::JUMP_BYTES
    }
}

impl<A, const J: usize, F, M> Lookup for Packed<A, J, F, M>
where
    A: Access<u8>,
    F: Unsigned + LeEqU16,
    M: Interpolate,
{
    type Frac = F;

    #[inline]
    fn lookup(&self, code: u16) -> i16 {
        let mut left = if code < self.first {
            0
        } else {
            code.wrapping_sub(self.first)
        };
        let mut climb = 0u16;
        let mut segment = 0u8;
        let mut exponent = self.shape >> 4;
        let mut skipped = 0u16;
        for jump in &self.jumps {
            if left < jump.offset {
                break;
            }
            climb = jump.climb;
            segment = jump.segment;
            exponent = jump.exponent;
            skipped = jump.offset;
        }
        left = left.wrapping_sub(skipped);
        let unit = self.shape & 7;
        let mut width = power(exponent);
        // Width codes are read a byte, four segments, at a time.
        let mut code_at = (segment >> 2) as usize;
        let mut difference_at =
            ((self.segments as usize).wrapping_add(3) >> 2).wrapping_add(segment as usize);
        let mut codes = 0u8;
        let height = loop {
            if segment & 3 == 0 {
                codes = self.bytes.at(code_at);
                code_at = code_at.wrapping_add(1);
            }
            if codes & 2 != 0 {
                width >>= 1;
                exponent = exponent.wrapping_sub(1);
                if codes & 1 != 0 {
                    width >>= 1;
                    exponent = exponent.wrapping_sub(1);
                }
            } else if codes & 1 != 0 {
                width <<= 1;
                exponent = exponent.wrapping_add(1);
            }
            codes >>= 2;
            let difference = self.bytes.at(difference_at) as u16;
            if left < width {
                let within = M::interpolate_by(raise(difference, unit), left, exponent);
                break raise(climb, unit).wrapping_add(within);
            }
            left = left.wrapping_sub(width);
            climb = climb.wrapping_add(difference);
            difference_at = difference_at.wrapping_add(1);
            segment = segment.wrapping_add(1);
            if segment >= self.segments {
                break raise(climb, unit);
            }
        };
        if self.shape & 8 == 0 {
            self.origin.wrapping_add(height as i16)
        } else {
            self.origin.wrapping_sub(height as i16)
        }
    }
}

/// `2^exponent` by shifts of constants, because a shift by a variable is a loop on small targets.
#[inline]
const fn power(exponent: u8) -> u16 {
    let mut power = 1u16;
    if exponent & 1 != 0 {
        power <<= 1;
    }
    if exponent & 2 != 0 {
        power <<= 2;
    }
    if exponent & 4 != 0 {
        power <<= 4;
    }
    if exponent & 8 != 0 {
        power <<= 8;
    }
    power
}

/// `value * 2^unit` by shifts of constants.
#[inline]
const fn raise(value: u16, unit: u8) -> u16 {
    let mut value = value;
    if unit & 1 != 0 {
        value <<= 1;
    }
    if unit & 2 != 0 {
        value <<= 2;
    }
    if unit & 4 != 0 {
        value <<= 4;
    }
    value
}

#[cfg(test)]
mod tests;
