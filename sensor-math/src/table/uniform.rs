//! Knots at equal distances of `2^SHIFT` codes.

use super::{Access, Interpolate, Lookup, Native, differences_fit, native_interpolate};
use crate::real;
use crate::sensor::{Codes, Sensor};
use core::marker::PhantomData;
use fixed::types::extra::{LeEqU16, Unsigned};

/// A table whose knot `j` stands at code `first + j * 2^SHIFT`.
///
/// `A` holds the knots, temperature words with `F` fraction bits; `M` multiplies. Written straight
/// from physical numbers, no generator needed, and refused at compile time when it is too coarse:
///
/// ```
/// use sensor_math::{Sensor, adc::Adc, curve::{Beta, Curve}, divider::{Divider, Side}};
/// use sensor_math::table::{Lookup, Uniform};
/// use fixed::types::extra::U7;
/// const SENSOR: Sensor = Sensor {
///     adc: Adc::ratiometric(10),
///     divider: Divider::new(Side::Supply, 10_000.0),
///     curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
/// };
/// const KNOTS: usize = Uniform::<(), 3, U7>::knots_for(&SENSOR, -10.0, 100.0);
/// const TABLE: Uniform<[i16; KNOTS], 3, U7> = Uniform::on_curve(&SENSOR, -10.0, 100.0);
/// const _: () = assert!(TABLE.worst_error_celsius(&SENSOR) < 0.1);
/// assert_eq!(TABLE.lookup(512), 3207);   // 25.05 degC
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uniform<A, const SHIFT: u32, F, M = Native> {
    first: u16,
    last: u16,
    knots: A,
    types: PhantomData<(F, M)>,
}

impl<A, const SHIFT: u32, F, M> Uniform<A, SHIFT, F, M> {
    /// Bytes the lookup reads besides its knots: first and last code.
    pub const HEADER_BYTES: usize = 4;
    /// Codes between neighbouring knots.
    pub const STEP: u16 = 1 << SHIFT;

    /// How many knots a run of codes needs.
    pub const fn knots_over(first: u16, last: u16) -> usize {
        assert!(SHIFT <= 15, "a step is at most 2^15 codes");
        ((last - first) >> SHIFT) as usize + 2
    }

    /// How many knots the range of a sensor needs, in degrees Celsius.
    ///
    /// # Panics
    /// When the sensor cannot measure the range; in a `const` item that does not compile.
    pub const fn knots_for(sensor: &Sensor, low_celsius: f64, high_celsius: f64) -> usize {
        let codes = sensor.codes_or_panic(low_celsius, high_celsius);
        Self::knots_over(codes.first, codes.last)
    }

    /// A table of these `values`, which are looked at here, its knots at `knots`, which are the same.
    const fn checked(first: u16, last: u16, values: &[i16], knots: A) -> Self {
        assert!(first <= last, "the first code must not be above the last");
        assert!(
            values.len() >= Self::knots_over(first, last),
            "too few knots for the range of codes"
        );
        assert!(
            differences_fit(values),
            "neighbouring knots are too far apart"
        );
        Self {
            first,
            last,
            knots,
            types: PhantomData,
        }
    }

    /// First and last code of the range.
    pub const fn codes(&self) -> (u16, u16) {
        (self.first, self.last)
    }

    /// The stored knots, or what reads them.
    pub const fn elements(&self) -> &A {
        &self.knots
    }

    /// The same table with its knots read through another accessor and multiplied by another
    /// multiply: `knots` must give the same values, e.g. out of flash.
    pub const fn read_through<B, M2>(&self, knots: B) -> Uniform<B, SHIFT, F, M2> {
        Uniform {
            first: self.first,
            last: self.last,
            knots,
            types: PhantomData,
        }
    }

    /// Index of the segment and position in it, for any code.
    #[inline]
    const fn locate(&self, code: u16) -> (usize, u16) {
        let offset = offset_within(usize::BITS, self.first, self.last, code);
        (offset >> SHIFT, offset as u16 & Self::STEP.wrapping_sub(1))
    }
}

/// How far `code` is into `first..=last`, a code beyond either end taken as that end, on a machine of `bits`.
#[inline(always)]
const fn offset_within(bits: u32, first: u16, last: u16, code: u16) -> usize {
    // Both limits in shapes whose bound the compiler follows up to the index, so that the accessor's
    // own check of it goes; on a 16-bit machine a sign is cheaper than a saturated difference.
    if bits == 16 && last <= i16::MAX as u16 {
        let code = if code > last { last } else { code };
        let offset = (code as i16).wrapping_sub(first as i16);
        (if offset < 0 { 0 } else { offset }) as usize
    } else {
        // One comparison for both ends: below the first code the difference wraps beyond the span.
        let offset = (code as usize).wrapping_sub(first as usize);
        let span = last.wrapping_sub(first) as usize;
        if offset > span {
            beyond();
            // The wrapped difference tells as well where a word has room for its sign, and is at hand.
            let below = if bits == 16 {
                code < first
            } else {
                (offset as isize) < 0
            };
            if below { 0 } else { span }
        } else {
            offset
        }
    }
}

/// Marks where codes beyond the range go, so that the compiler lays the others in a straight line.
#[cold]
#[inline(always)]
const fn beyond() {}

impl<'a, const SHIFT: u32, F: Unsigned, M> Uniform<&'a [i16], SHIFT, F, M> {
    /// From knots in a slice, as many as it has.
    ///
    /// # Panics
    /// As [`Uniform::from_knots`].
    ///
    /// ```should_panic
    /// use sensor_math::table::Uniform;
    /// use fixed::types::extra::U7;
    /// // 128 degC and more from one knot to the next
    /// let knots = [0, 0x4000];
    /// let _ = Uniform::<&[i16], 3, U7>::from_slice(100, 107, &knots);
    /// ```
    pub const fn from_slice(first: u16, last: u16, knots: &'a [i16]) -> Self {
        Self::checked(first, last, knots, knots)
    }
}

impl<const N: usize, const SHIFT: u32, F: Unsigned, M> Uniform<[i16; N], SHIFT, F, M> {
    /// From knots as integers: what the host program emits.
    ///
    /// # Panics
    /// When there are too few knots for the codes `first..=last`, or neighbours are further apart
    /// than [`DIFFERENCE_MAX`](super::DIFFERENCE_MAX). In a `const` item, that does not compile.
    pub const fn from_knots(first: u16, last: u16, knots: [i16; N]) -> Self {
        Self::checked(first, last, &knots, knots)
    }

    /// From physical numbers: every knot on the sensor's curve, rounded to the nearest word. The
    /// last knot, which may lie beyond the range, is placed so that the last code of the range is
    /// on the curve.
    ///
    /// # Panics
    /// When the sensor cannot measure the range, `N` is not [`Uniform::knots_for`], or a knot does
    /// not fit its word. In a `const` item, that does not compile.
    pub const fn on_curve(sensor: &Sensor, low_celsius: f64, high_celsius: f64) -> Self {
        let Codes { first, last, .. } = sensor.codes_or_panic(low_celsius, high_celsius);
        assert!(
            N == Self::knots_over(first, last),
            "wrong number of knots: use knots_for"
        );
        let mut knots = [0i16; N];
        let mut previous = 0.0;
        let mut j = 0;
        while j < N {
            let code = first as u32 + ((j as u32) << SHIFT);
            let celsius = if code <= last as u32 {
                sensor.celsius_at_code(code as u16)
            } else {
                let reach = last as u32 + (1 << SHIFT) - code;
                let at_last = sensor.celsius_at_code(last);
                if reach == 0 {
                    // The last code is a knot itself: go on as the segment before.
                    let before = sensor.celsius_at_position(last as f64 - 0.5);
                    at_last + (at_last - before) * Self::STEP as f64
                } else {
                    previous + (at_last - previous) * Self::STEP as f64 / reach as f64
                }
            };
            let word = real::round(celsius * (1u32 << F::U32) as f64);
            assert!(
                word >= i16::MIN as i64 && word <= i16::MAX as i64,
                "a knot does not fit its word: use fewer fraction bits or a smaller range"
            );
            knots[j] = word as i16;
            previous = celsius;
            j += 1;
        }
        Self::from_knots(first, last, knots)
    }

    /// The lookup in `const` context; the same bits as [`Lookup::lookup`].
    pub const fn lookup_const(&self, code: u16) -> i16 {
        let (segment, fraction) = self.locate(code);
        let (left, right) = (self.knots[segment], self.knots[segment + 1]);
        left.wrapping_add(native_interpolate(
            right.wrapping_sub(left),
            fraction,
            SHIFT,
        ))
    }

    /// Largest error against the sensor's curve over every code of the range, output rounding
    /// included, in degrees Celsius.
    pub const fn worst_error_celsius(&self, sensor: &Sensor) -> f64 {
        let unit = 1.0 / (1u32 << F::U32) as f64;
        let mut worst = 0.0;
        let mut code = self.first as u32;
        while code <= self.last as u32 {
            let got = self.lookup_const(code as u16) as f64 * unit;
            let error = real::abs(got - sensor.celsius_at_code(code as u16));
            // NaN must not pass as small.
            if error > worst || error.is_nan() {
                worst = error;
            }
            code += 1;
        }
        worst
    }

    /// Bytes that the lookup reads: knots and header.
    pub const fn bytes(&self) -> usize {
        2 * N + Self::HEADER_BYTES
    }
}

impl<A, const SHIFT: u32, F, M> Lookup for Uniform<A, SHIFT, F, M>
where
    A: Access<i16>,
    F: Unsigned + LeEqU16,
    M: Interpolate,
{
    type Frac = F;

    #[inline]
    fn lookup(&self, code: u16) -> i16 {
        let (segment, fraction) = self.locate(code);
        let left = self.knots.at(segment);
        let right = self.knots.at(segment.wrapping_add(1));
        M::between::<SHIFT>(left, right, fraction)
    }
}

#[cfg(test)]
mod tests;
