//! Two or three zones, each with knots at equal distances of its own.

use super::{Access, Interpolate, Lookup, Native, differences_fit, native_interpolate};
use core::marker::PhantomData;
use fixed::types::extra::{LeEqU16, Unsigned};

/// A table in three zones with steps of `2^S1`, `2^S2` and `2^S3` codes. A table in two has an
/// empty middle zone (`second_end` equal to `first_end`) and `S3 = S2`, which spares a comparison.
///
/// Zones meet at a knot, so each zone but the last is a whole number of steps long. Constant time:
/// two comparisons more than [`Uniform`](super::Uniform).
///
/// ```
/// use sensor_math::table::{Lookup, Zones};
/// use fixed::types::extra::U7;
/// // codes 100..=103 in one step of 4, then steps of 8 to code 119, then steps of 2 to code 123
/// const TABLE: Zones<[i16; 6], 2, 3, 1, U7> =
///     Zones::from_knots(100, 104, 120, 123, [0, 40, 120, 200, 220, 240]);
/// assert_eq!((TABLE.lookup(102), TABLE.lookup(108), TABLE.lookup(121)), (20, 80, 210));
/// assert_eq!(TABLE.lookup(0), 0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zones<A, const S1: u32, const S2: u32, const S3: u32, F, M = Native> {
    first: u16,
    first_end: u16,
    second_end: u16,
    last: u16,
    knots: A,
    types: PhantomData<(F, M)>,
}

impl<A, const S1: u32, const S2: u32, const S3: u32, F, M> Zones<A, S1, S2, S3, F, M> {
    /// Bytes the lookup reads besides its knots: first code, two boundaries, last code.
    pub const HEADER_BYTES: usize = 8;

    /// How many knots the zones need.
    ///
    /// # Panics
    /// When the codes are not in order or a zone is not a whole number of its steps long.
    pub const fn knots_over(first: u16, first_end: u16, second_end: u16, last: u16) -> usize {
        assert!(
            S1 <= 15 && S2 <= 15 && S3 <= 15,
            "a step is at most 2^15 codes"
        );
        assert!(
            first <= first_end && first_end <= second_end && first <= last,
            "zones must follow each other"
        );
        let (one, two) = (first_end - first, second_end - first_end);
        assert!(
            (one >> S1) << S1 == one,
            "the first zone is not a whole number of its steps long"
        );
        assert!(
            (two >> S2) << S2 == two,
            "the second zone is not a whole number of its steps long"
        );
        let before = (one >> S1) as usize;
        if last < first_end {
            ((last - first) >> S1) as usize + 2
        } else if last < second_end {
            before + ((last - first_end) >> S2) as usize + 2
        } else {
            before + (two >> S2) as usize + ((last - second_end) >> S3) as usize + 2
        }
    }

    /// A table of these `values`, which are looked at here, its knots at `knots`, which are the same.
    const fn checked(
        (first, first_end, second_end, last): (u16, u16, u16, u16),
        values: &[i16],
        knots: A,
    ) -> Self {
        assert!(
            values.len() >= Self::knots_over(first, first_end, second_end, last),
            "too few knots for the zones"
        );
        assert!(
            differences_fit(values),
            "neighbouring knots are too far apart"
        );
        Self {
            first,
            first_end,
            second_end,
            last,
            knots,
            types: PhantomData,
        }
    }

    /// First code, end of the first and of the second zone (each the first code after it), last code.
    pub const fn codes(&self) -> (u16, u16, u16, u16) {
        (self.first, self.first_end, self.second_end, self.last)
    }

    /// The stored knots, or what reads them.
    pub const fn elements(&self) -> &A {
        &self.knots
    }

    /// The same table with its knots read through another accessor and multiplied by another
    /// multiply: `knots` must give the same values, e.g. out of flash.
    pub const fn read_through<B, M2>(&self, knots: B) -> Zones<B, S1, S2, S3, F, M2> {
        Zones {
            first: self.first,
            first_end: self.first_end,
            second_end: self.second_end,
            last: self.last,
            knots,
            types: PhantomData,
        }
    }
}

impl<'a, const S1: u32, const S2: u32, const S3: u32, F: Unsigned, M>
    Zones<&'a [i16], S1, S2, S3, F, M>
{
    /// From knots in a slice, as many as it has.
    ///
    /// # Panics
    /// As [`Zones::from_knots`].
    pub const fn from_slice(
        first: u16,
        first_end: u16,
        second_end: u16,
        last: u16,
        knots: &'a [i16],
    ) -> Self {
        Self::checked((first, first_end, second_end, last), knots, knots)
    }
}

impl<const N: usize, const S1: u32, const S2: u32, const S3: u32, F: Unsigned, M>
    Zones<[i16; N], S1, S2, S3, F, M>
{
    /// From knots as integers: what the host program emits. `first_end` and `second_end` are the
    /// first codes after the first and the second zone.
    ///
    /// # Panics
    /// As [`Zones::knots_over`]; when there are too few knots, or neighbours are further apart than
    /// [`DIFFERENCE_MAX`](super::DIFFERENCE_MAX). In a `const` item, that does not compile.
    pub const fn from_knots(
        first: u16,
        first_end: u16,
        second_end: u16,
        last: u16,
        knots: [i16; N],
    ) -> Self {
        Self::checked((first, first_end, second_end, last), &knots, knots)
    }

    /// Bytes that the lookup reads: knots and header.
    pub const fn bytes(&self) -> usize {
        2 * N + Self::HEADER_BYTES
    }
}

impl<A, const S1: u32, const S2: u32, const S3: u32, F, M> Lookup for Zones<A, S1, S2, S3, F, M>
where
    A: Access<i16>,
    F: Unsigned + LeEqU16,
    M: Interpolate,
{
    type Frac = F;

    #[inline]
    fn lookup(&self, code: u16) -> i16 {
        let codes = (self.first, self.first_end, self.second_end, self.last);
        let (segment, fraction) = locate(codes, [S1, S2, S3], code);
        let left = self.knots.at(segment);
        let right = self.knots.at(segment.wrapping_add(1));
        between_at_top::<S1, S2, S3, M>(left, right, fraction)
    }
}

/// The lookup of [`Zones`] with its steps as values: the same source, for programs that learn them
/// at run time, like the host's generator when it walks every code of what it made.
///
/// `codes` and the three shifts (15 at most) are those of [`Zones`].
pub fn lookup_in_zones<A: Access<i16>>(
    codes: (u16, u16, u16, u16),
    shifts: [u32; 3],
    knots: &A,
    code: u16,
) -> i16 {
    let (segment, fraction) = locate(codes, shifts, code);
    let left = knots.at(segment);
    let right = knots.at(segment.wrapping_add(1));
    let step = right.wrapping_sub(left);
    left.wrapping_add(native_interpolate(step, fraction, largest(shifts)))
}

/// Largest of the three shifts: every fraction is brought to it, for one interpolation.
const fn largest([s1, s2, s3]: [u32; 3]) -> u32 {
    let top = if s1 > s2 { s1 } else { s2 };
    if s3 > top { s3 } else { top }
}

/// Index of the segment and position in it, in parts of `2^largest(shifts)`. Always inlined, so
/// that the shifts are constants where the caller's are.
#[inline(always)]
const fn locate(
    (first, first_end, second_end, last): (u16, u16, u16, u16),
    [s1, s2, s3]: [u32; 3],
    code: u16,
) -> (usize, u16) {
    let top = largest([s1, s2, s3]);
    let code = if code < first {
        first
    } else if code > last {
        last
    } else {
        code
    };
    if code < first_end {
        let offset = code.wrapping_sub(first);
        return (
            (offset >> s1) as usize,
            (offset & ((1 << s1) - 1)) << (top - s1),
        );
    }
    let before = first_end.wrapping_sub(first) >> s1;
    if s2 == s3 || code < second_end {
        let offset = code.wrapping_sub(first_end);
        let segment = before.wrapping_add(offset >> s2);
        return (segment as usize, (offset & ((1 << s2) - 1)) << (top - s2));
    }
    let before = before.wrapping_add(second_end.wrapping_sub(first_end) >> s2);
    let offset = code.wrapping_sub(second_end);
    let segment = before.wrapping_add(offset >> s3);
    (segment as usize, (offset & ((1 << s3) - 1)) << (top - s3))
}

/// `between::<max(S1, S2, S3)>`: a const generic cannot be computed on stable, so chosen.
#[inline]
fn between_at_top<const S1: u32, const S2: u32, const S3: u32, M: Interpolate>(
    left: i16,
    right: i16,
    fraction: u16,
) -> i16 {
    if S1 >= S2 && S1 >= S3 {
        M::between::<S1>(left, right, fraction)
    } else if S2 >= S3 {
        M::between::<S2>(left, right, fraction)
    } else {
        M::between::<S3>(left, right, fraction)
    }
}

#[cfg(test)]
mod tests;
