//! A generated table as integers, looked up with the shipped lookups.

use fixed::types::extra::U7;
use sensor_math::table::{Jump, Lookup, Packed, Uniform, lookup_in_zones};

/// The integers of a table, by encoding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Layout {
    /// [`sensor_math::table::Uniform`].
    Uniform {
        /// Code of the first knot.
        first: u16,
        /// Last code of the range.
        last: u16,
        /// Step `2^shift` codes.
        shift: u32,
        /// Temperature words.
        knots: Vec<i16>,
    },
    /// [`sensor_math::table::Zones`].
    Zones {
        /// Code of the first knot, first code of the second zone, of the third, last of the range.
        codes: (u16, u16, u16, u16),
        /// Step `2^shift` codes of each zone.
        shifts: [u32; 3],
        /// Temperature words.
        knots: Vec<i16>,
    },
    /// [`sensor_math::table::Packed`].
    Packed {
        /// Code of the first knot.
        first: u16,
        /// Temperature word of the first knot.
        origin: i16,
        /// Number of segments.
        segments: u8,
        /// Value unit, direction and first width exponent, see [`sensor_math::table::Packed::shape`].
        shape: u8,
        /// Width codes, then differences.
        bytes: Vec<u8>,
        /// Places to begin the scan.
        jumps: Vec<Jump>,
    },
}

/// Most jumps a packed table is generated with.
pub const JUMPS_MAX: usize = 3;

impl Layout {
    /// Name of the encoding, as on the command line.
    pub fn encoding(&self) -> &'static str {
        match self {
            Self::Uniform { .. } => "uniform",
            Self::Zones { .. } => "zones",
            Self::Packed { .. } => "packed",
        }
    }

    /// Every byte that the lookup reads, header included; fault thresholds are not part of a table.
    pub fn bytes(&self) -> usize {
        match self {
            Self::Uniform { knots, .. } => 2 * knots.len() + Uniform::<(), 0, U7>::HEADER_BYTES,
            Self::Zones { knots, .. } => {
                2 * knots.len() + sensor_math::table::Zones::<(), 0, 0, 0, U7>::HEADER_BYTES
            }
            Self::Packed { bytes, jumps, .. } => {
                bytes.len()
                    + jumps.len() * Packed::<(), 0, U7>::JUMP_BYTES
                    + Packed::<(), 0, U7>::HEADER_BYTES
            }
        }
    }

    /// Number of linear segments.
    pub fn segments(&self) -> usize {
        match self {
            Self::Uniform { knots, .. } | Self::Zones { knots, .. } => knots.len() - 1,
            Self::Packed { segments, .. } => usize::from(*segments),
        }
    }

    /// Temperature word at a code, by the shipped lookup.
    pub fn lookup(&self, code: u16) -> i16 {
        match self {
            Self::Uniform {
                first,
                last,
                shift,
                knots,
            } => uniform(*first, *last, *shift, knots, code),
            Self::Zones {
                codes,
                shifts,
                knots,
            } => lookup_in_zones(*codes, *shifts, &&knots[..], code),
            Self::Packed { jumps, .. } => match jumps[..] {
                [] => self.packed([], code),
                [a] => self.packed([a], code),
                [a, b] => self.packed([a, b], code),
                [a, b, c, ..] => self.packed([a, b, c], code),
            },
        }
    }

    fn packed<const J: usize>(&self, jumps: [Jump; J], code: u16) -> i16 {
        let Self::Packed {
            first,
            origin,
            segments,
            shape,
            bytes,
            ..
        } = self
        else {
            unreachable!("called for packed tables only")
        };
        Packed::<&[u8], J, U7>::from_slice(*first, *origin, *segments, *shape, bytes, jumps)
            .lookup(code)
    }
}

/// The shipped uniform lookup, whose step is a type.
fn uniform(first: u16, last: u16, shift: u32, knots: &[i16], code: u16) -> i16 {
    macro_rules! by_shift {
        ($($shift:literal)*) => {
            match shift {
                $($shift => Uniform::<&[i16], $shift, U7>::from_slice(first, last, knots).lookup(code),)*
                _ => unreachable!("steps are at most 2^15 codes"),
            }
        };
    }
    by_shift!(0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15)
}
