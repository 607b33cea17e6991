//! Free knots in the fewest bytes: segment widths are powers of two, kept as exponents of `E` bits,
//! and each knot is one byte of difference from the knot before.

use super::{Access, Interpolate, Lookup, Native};
use core::marker::PhantomData;
use fixed::types::extra::{LeEqU16, Unsigned};

/// A place to begin the scan other than the start. Five bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jump {
    /// Codes from the table's first code.
    pub offset: u16,
    /// Differences summed up to here, in value units.
    pub climb: u16,
    /// Index of the segment that begins here.
    pub segment: u8,
}

/// A packed table of `segments` segments in `J` jumps and a run of bytes: first the exponents, `E`
/// bits each, the first in the lowest bits; then the differences.
///
/// Segment `i` spans `2^(base + exponent[i])` codes and `difference[i]` value units, up when
/// temperature rises with the code, otherwise down. A value unit is `2^unit` temperature words,
/// because one byte at 1/128 degC would span only 2 degC. The first knot is a whole word, so the
/// grid of the others may lie anywhere.
///
/// A code beyond the last segment gives the value of the last knot.
///
/// ```
/// use sensor_math::table::{Lookup, Packed};
/// use fixed::types::extra::U7;
/// // From code 100 and 20 degC (2560): 8 codes and 64 units of 1/16 degC, then 16 codes and 32 units.
/// const TABLE: Packed<[u8; 3], 2, 0, U7> =
///     Packed::from_bytes(100, 2560, 2, Packed::<(), 2, 0, U7>::shape(3, true, 3), [0b01_00, 64, 32], []);
/// assert_eq!(TABLE.lookup(100), 2560);
/// assert_eq!(TABLE.lookup(104), 2560 + 32 * 8);
/// assert_eq!(TABLE.lookup(116), 2560 + 64 * 8 + 16 * 8);
/// assert_eq!(TABLE.lookup(5000), 2560 + 96 * 8);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Packed<A, const E: u32, const J: usize, F, M = Native> {
    first: u16,
    origin: i16,
    segments: u8,
    shape: u8,
    bytes: A,
    jumps: [Jump; J],
    types: PhantomData<(F, M)>,
}

impl<A, const E: u32, const J: usize, F, M> Packed<A, E, J, F, M> {
    /// Bytes the lookup reads besides exponents, differences and jumps: first code, first value,
    /// number of segments, shape.
    pub const HEADER_BYTES: usize = 6;
    /// Bytes of a [`Jump`].
    pub const JUMP_BYTES: usize = 5;
    /// Largest value unit, as a power of two of temperature words.
    pub const UNIT_MAX: u32 = 7;

    /// The header's shape byte: value unit `2^unit` words in bits 0 to 2, falling temperature in
    /// bit 3, base exponent in bits 4 to 7.
    ///
    /// # Panics
    /// When `unit` is above 7 or `base` above 15.
    pub const fn shape(unit: u32, rising: bool, base: u32) -> u8 {
        assert!(
            unit <= Self::UNIT_MAX && base <= 15,
            "unit is at most 7, base exponent at most 15"
        );
        unit as u8 | if rising { 0 } else { 8 } | (base as u8) << 4
    }

    /// Bytes of exponents for a number of segments.
    pub const fn exponent_bytes(segments: usize) -> usize {
        (segments * E as usize).div_ceil(8)
    }

    /// From bytes behind an accessor, which the caller has checked as [`Packed::from_bytes`] does.
    ///
    /// # Panics
    /// When `E` is not 1, 2 or 4, there are no segments, or `length` is too small for them.
    pub const fn with_access(
        first: u16,
        origin: i16,
        segments: u8,
        shape: u8,
        length: usize,
        bytes: A,
        jumps: [Jump; J],
    ) -> Self {
        assert!(E == 1 || E == 2 || E == 4, "exponents have 1, 2 or 4 bits");
        assert!(segments > 0, "a table needs a segment");
        assert!(
            length >= Self::exponent_bytes(segments as usize) + segments as usize,
            "too few bytes for the segments"
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

    /// The exponents and differences, or what reads them.
    pub const fn bytes_access(&self) -> &A {
        &self.bytes
    }
}

impl<const N: usize, const E: u32, const J: usize, F: Unsigned, M> Packed<[u8; N], E, J, F, M> {
    /// From bytes as integers: what the host program emits.
    ///
    /// # Panics
    /// As [`Packed::with_access`]; when widths pass 2^15 codes a segment or 65535 in all, values
    /// leave their word, or a jump does not stand at the start of its segment. In a `const` item,
    /// that does not compile.
    pub const fn from_bytes(
        first: u16,
        origin: i16,
        segments: u8,
        shape: u8,
        bytes: [u8; N],
        jumps: [Jump; J],
    ) -> Self {
        let (unit, base) = ((shape & 7) as u32, (shape >> 4) as u32);
        let exponents = Self::exponent_bytes(segments as usize);
        assert!(
            N >= exponents + segments as usize,
            "too few bytes for the segments"
        );
        let mut offset = 0u32;
        let mut climb = 0u32;
        let mut jump = 0;
        let mut i = 0;
        while i < segments as usize {
            if jump < J && jumps[jump].segment as usize == i {
                assert!(
                    jumps[jump].offset as u32 == offset && jumps[jump].climb as u32 == climb,
                    "a jump does not stand at the start of its segment"
                );
                jump += 1;
            }
            let bit = i * E as usize;
            let exponent = base + (bytes[bit / 8] >> (bit % 8)) as u32 % (1 << E);
            assert!(exponent <= 15, "a segment spans at most 2^15 codes");
            offset += 1 << exponent;
            climb += bytes[exponents + i] as u32;
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
        Self::with_access(first, origin, segments, shape, N, bytes, jumps)
    }

    /// Bytes that the lookup reads: header, exponents, differences, jumps.
    pub const fn bytes(&self) -> usize {
        N + Self::HEADER_BYTES + J * Self::JUMP_BYTES
    }
}

impl<A, const E: u32, const J: usize, F, M> Lookup for Packed<A, E, J, F, M>
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
        let mut skipped = 0u16;
        for jump in &self.jumps {
            if left < jump.offset {
                break;
            }
            climb = jump.climb;
            segment = jump.segment;
            skipped = jump.offset;
        }
        left = left.wrapping_sub(skipped);
        let unit = self.shape & 7;
        let base = self.shape >> 4;
        let differences = (self.segments as u16)
            .wrapping_mul(E as u16)
            .wrapping_add(7)
            >> 3;
        let height = loop {
            let bit = (segment as u16).wrapping_mul(E as u16);
            let packed = self.bytes.at((bit >> 3) as usize);
            let exponent = field::<E>(packed, segment);
            let width = width_of(base.wrapping_add(exponent));
            let difference =
                self.bytes
                    .at(differences.wrapping_add(segment as u16) as usize) as u16;
            if left < width {
                let height = raise(difference, unit);
                let within = M::interpolate_by(height, left, base.wrapping_add(exponent));
                break raise(climb, unit).wrapping_add(within);
            }
            left = left.wrapping_sub(width);
            climb = climb.wrapping_add(difference);
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

/// The `E` bits of a segment's exponent out of its byte. The shifts are by constants, because a
/// variable shift is a loop on small targets.
#[inline]
const fn field<const E: u32>(byte: u8, segment: u8) -> u8 {
    let mut byte = byte;
    if E == 4 {
        if segment & 1 != 0 {
            byte >>= 4;
        }
        return byte & 15;
    }
    if E == 2 {
        if segment & 2 != 0 {
            byte >>= 4;
        }
        if segment & 1 != 0 {
            byte >>= 2;
        }
        return byte & 3;
    }
    if segment & 4 != 0 {
        byte >>= 4;
    }
    if segment & 2 != 0 {
        byte >>= 2;
    }
    if segment & 1 != 0 {
        byte >>= 1;
    }
    byte & 1
}

/// `2^exponent` by shifts of constants.
#[inline]
const fn width_of(exponent: u8) -> u16 {
    let mut width = 1u16;
    if exponent & 1 != 0 {
        width <<= 1;
    }
    if exponent & 2 != 0 {
        width <<= 2;
    }
    if exponent & 4 != 0 {
        width <<= 4;
    }
    if exponent & 8 != 0 {
        width <<= 8;
    }
    width
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
