//! Trim: the straight line that takes what one box reads to what a reference thermometer shows beside it.
//!
//! A table corrects the curve of the part; a trim corrects this very part, its resistor and its converter. It is found
//! once, at one point (an offset) or two (an offset and a slope), and applied to every temperature word:
//!
//! ```text
//! trimmed = word + floor((slope word + offset) / 2^17)     slope, offset: integers; offset holds the rounding half
//! ```
//!
//! One 16 by 16 bit multiplication, no division, no overflow: `abs(slope) <= 2^14` and `abs(offset) < 2^30`, so the sum
//! stays below `2^29 + 2^30` in 32 bits. The result saturates at the word's ends.
//!
//! **Rounding.** Let `line` be the exact line through the given points and `m` the middle of the readings (the
//! reading itself for one point). Then, where nothing saturates,
//!
//! ```text
//! abs(trimmed - line(word)) <= 1/2 + (abs(word - m) + 1) / 2^18   words
//! ```
//!
//! because the slope is rounded to `2^-17`, wrong by at most `2^-18`, and the offset is taken at `m` with that slope and
//! rounded to `2^-17` once more. Over 64 degC on either side of `m` at 1/128 degC that is 0.54 of a word. The trimmed
//! words keep their order: the slope is above zero, and each step of a word moves the result by 0, 1 or 2.
//!
//! A trim that would be large is refused: it is no trim then, but a wrong curve, a wrong resistor or a
//! probe that was not where the reference was.

use crate::table::Lookup;
use core::marker::PhantomData;
use fixed::FixedI16;
use fixed::types::extra::{LeEqU16, Unsigned};

/// Fraction bits of slope and offset.
const BITS: u32 = 17;
/// `2^BITS`.
const ONE: f64 = (1u32 << BITS) as f64;

/// Why there is no trim.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrimError {
    /// A temperature that is not a number, or beyond the word.
    Temperature,
    /// Two points with the same reading.
    Equal,
    /// The slope differs from 1 by more than an eighth.
    Slope,
    /// The correction at a reading of zero is not below 2^13 - 1 words (64 degC at 1/128 degC).
    Offset,
}

impl TrimError {
    /// What is wrong and what would be accepted.
    pub const fn message(self) -> &'static str {
        match self {
            Self::Temperature => {
                "a trim point is not a number or beyond the temperature word; accepted: temperatures within the word"
            }
            Self::Equal => {
                "two trim points have the same reading; accepted: two readings as far apart as the box's range allows"
            }
            Self::Slope => {
                "the trim's slope is too far from 1; accepted: 7/8 to 9/8, beyond it curve, resistor or probe are wrong"
            }
            Self::Offset => {
                "the trim's offset is too large; accepted: below 2^13 - 1 words at a reading of zero"
            }
        }
    }
}

impl core::fmt::Display for TrimError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.message())
    }
}

impl core::error::Error for TrimError {}

/// A trim for temperature words of `Frac` fraction bits. Six bytes in memory.
///
/// ```
/// use fixed::{types::extra::U7, FixedI16};
/// use sensor_math::trim::{Trim, TrimError};
/// // In melting ice the box read 0.6 degC, in a stirred bath of 60 degC it read 59.8.
/// const TRIM: Trim<U7> = Trim::two_points_or_panic((0.6, 0.0), (59.8, 60.0));
/// type Word = FixedI16<U7>;
/// let near = |read: f64, real: f64| {
///     (TRIM.apply(Word::from_num(read)).to_num::<f64>() - real).abs() < 1.0 / 128.0
/// };
/// assert!(near(0.6, 0.0) && near(59.8, 60.0) && near(30.2, 30.0));
/// assert_eq!(Trim::<U7>::two_points((20.0, 20.5), (20.0, 21.0)), Err(TrimError::Equal));
/// assert_eq!(Trim::<U7>::two_points((20.0, 20.0), (40.0, 44.0)), Err(TrimError::Slope));
/// ```
pub struct Trim<Frac> {
    slope: i16,
    offset: i32,
    frac: PhantomData<Frac>,
}

// By hand: a derive would ask the same of `Frac`, which is only a label.
impl<Frac> Clone for Trim<Frac> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<Frac> Copy for Trim<Frac> {}
impl<Frac> PartialEq for Trim<Frac> {
    fn eq(&self, other: &Self) -> bool {
        (self.slope, self.offset) == (other.slope, other.offset)
    }
}
impl<Frac> Eq for Trim<Frac> {}
impl<Frac> core::fmt::Debug for Trim<Frac> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Trim")
            .field("slope", &self.slope)
            .field("offset", &self.offset)
            .finish()
    }
}

impl<Frac: Unsigned + LeEqU16> Trim<Frac> {
    /// Largest magnitude of a slope mantissa: an eighth.
    pub const SLOPE_MAX: i16 = 1 << (BITS - 3);
    /// Offset mantissas lie below this: 2^13 words.
    pub const OFFSET_END: i32 = 1 << (BITS + 13);
    /// Leaves every word as it is.
    pub const NONE: Self = Self::raw(0, 1 << (BITS - 1));

    const fn raw(slope: i16, offset: i32) -> Self {
        Self {
            slope,
            offset,
            frac: PhantomData,
        }
    }

    /// From its integers, as a settings record holds them: `slope` in 2^-17, `offset` in 2^-17 words with the rounding
    /// half inside. For a trim that is found at run time; needs no floating point.
    ///
    /// # Errors
    /// [`TrimError::Slope`] beyond [`Trim::SLOPE_MAX`], [`TrimError::Offset`] from [`Trim::OFFSET_END`] on.
    pub const fn from_parts(slope: i16, offset: i32) -> Result<Self, TrimError> {
        if slope > Self::SLOPE_MAX || slope < -Self::SLOPE_MAX {
            return Err(TrimError::Slope);
        }
        if offset >= Self::OFFSET_END || offset <= -Self::OFFSET_END {
            return Err(TrimError::Offset);
        }
        Ok(Self::raw(slope, offset))
    }

    /// Slope and offset, for a settings record.
    pub const fn parts(&self) -> (i16, i32) {
        (self.slope, self.offset)
    }

    /// One point: what the box read and what was real, degrees Celsius. Corrects by their difference everywhere.
    ///
    /// # Errors
    /// A temperature that is no number or beyond the word, or a difference of 2^13 - 1 words and more.
    pub const fn one_point(read_celsius: f64, real_celsius: f64) -> Result<Self, TrimError> {
        Self::line(read_celsius, real_celsius, 1.0)
    }

    /// Two points, each (what the box read, what was real), degrees Celsius, in any order.
    ///
    /// # Errors
    /// A temperature that is no number or beyond the word, equal readings, a slope that differs from 1 by more
    /// than an eighth, or a correction at zero of 2^13 - 1 words and more.
    pub const fn two_points(a: (f64, f64), b: (f64, f64)) -> Result<Self, TrimError> {
        if !Self::fits(a.0) || !Self::fits(a.1) || !Self::fits(b.0) || !Self::fits(b.1) {
            return Err(TrimError::Temperature);
        }
        if a.0 == b.0 {
            return Err(TrimError::Equal);
        }
        let slope = (b.1 - a.1) / (b.0 - a.0);
        Self::line((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0, slope)
    }

    /// As [`Trim::one_point`], for `const` items.
    ///
    /// # Panics
    /// Where `one_point` gives an error; in a `const` item, that does not compile.
    pub const fn one_point_or_panic(read_celsius: f64, real_celsius: f64) -> Self {
        match Self::one_point(read_celsius, real_celsius) {
            Ok(trim) => trim,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// As [`Trim::two_points`], for `const` items.
    ///
    /// # Panics
    /// Where `two_points` gives an error; in a `const` item, that does not compile.
    pub const fn two_points_or_panic(a: (f64, f64), b: (f64, f64)) -> Self {
        match Self::two_points(a, b) {
            Ok(trim) => trim,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Words in a degree.
    const SCALE: f64 = (1u32 << Frac::U32) as f64;

    const fn fits(celsius: f64) -> bool {
        let words = celsius * Self::SCALE;
        words >= -32_768.0 && words <= 32_767.0
    }

    /// The line of a slope through a point.
    const fn line(read_celsius: f64, real_celsius: f64, slope: f64) -> Result<Self, TrimError> {
        if !Self::fits(read_celsius) || !Self::fits(real_celsius) {
            return Err(TrimError::Temperature);
        }
        let excess = (slope - 1.0) * ONE;
        let most = Self::SLOPE_MAX as f64;
        if !(excess >= -most && excess <= most) {
            return Err(TrimError::Slope);
        }
        let mantissa = crate::real::round(excess);
        let (read, real) = (read_celsius * Self::SCALE, real_celsius * Self::SCALE);
        let offset = (real - read) * ONE - mantissa as f64 * read;
        let end = Self::OFFSET_END as f64 - ONE;
        if !(offset > -end && offset < end) {
            return Err(TrimError::Offset);
        }
        Ok(Self::raw(
            mantissa as i16,
            crate::real::round(offset) as i32 + (1 << (BITS - 1)),
        ))
    }
}

impl<Frac> Trim<Frac> {
    /// The trimmed word; saturates at the word's ends.
    #[inline]
    pub fn apply_word(&self, word: i16) -> i16 {
        // below 2^29 + 2^30 by construction
        let sum = (self.slope as i32)
            .wrapping_mul(word as i32)
            .wrapping_add(self.offset);
        let trimmed = (word as i32).wrapping_add(sum >> BITS);
        if trimmed > i16::MAX as i32 {
            i16::MAX
        } else if trimmed < i16::MIN as i32 {
            i16::MIN
        } else {
            trimmed as i16
        }
    }

    /// The trimmed temperature; saturates at the word's ends.
    #[inline]
    pub fn apply(&self, reading: FixedI16<Frac>) -> FixedI16<Frac>
    where
        Frac: LeEqU16,
    {
        FixedI16::from_bits(self.apply_word(reading.to_bits()))
    }
}

/// A table with a trim behind it: a table again, so that a
/// [`Thermometer`](crate::thermometer::Thermometer) reads trimmed degrees. Its limits are codes, and stay as they are.
///
/// ```
/// use fixed::{types::extra::U7, FixedI16};
/// use sensor_math::{fault::{FaultCode, Limits}, table::Uniform, thermometer::Thermometer};
/// use sensor_math::trim::{Trim, Trimmed};
/// const TABLE: Uniform<[i16; 3], 3, U7> = Uniform::from_knots(100, 115, [2560, 2816, 3200]);
/// // At 21 degC by the table, the reference beside it showed 20.5.
/// const TRIM: Trim<U7> = Trim::one_point_or_panic(21.0, 20.5);
/// static PROBE: Thermometer<Trimmed<Uniform<[i16; 3], 3, U7>>> =
///     Thermometer::new(Trimmed::new(TABLE, TRIM), Limits::new(100, 115, 50, 200));
/// assert_eq!(PROBE.read(104), Ok(FixedI16::<U7>::lit("20.5")));
/// assert_eq!(PROBE.read(0), Err(FaultCode::Open));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trimmed<T: Lookup> {
    table: T,
    trim: Trim<T::Frac>,
}

impl<T: Lookup> Trimmed<T> {
    /// From a table and the trim of this box.
    pub const fn new(table: T, trim: Trim<T::Frac>) -> Self {
        Self { table, trim }
    }

    /// The table.
    pub const fn table(&self) -> &T {
        &self.table
    }

    /// The trim.
    pub const fn trim(&self) -> &Trim<T::Frac> {
        &self.trim
    }
}

impl<T: Lookup> Lookup for Trimmed<T> {
    type Frac = T::Frac;

    #[inline]
    fn lookup(&self, code: u16) -> i16 {
        self.trim.apply_word(self.table.lookup(code))
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use fixed::types::extra::{U5, U7};

    /// Every word under trims over the whole legal range, against the exact line: the stated bound, the order, and
    /// saturation. The line is worked out here from the points themselves.
    #[test]
    fn every_word_is_within_the_stated_bound_of_the_exact_line() {
        let mut cases = 0u64;
        for points in [
            [(0.6, 0.0), (59.8, 60.0)],
            [(-40.0, -36.0), (120.0, 110.0)],
            [(100.0, 100.0), (0.0, -12.5)],
            [(20.0, 20.0), (20.1, 20.11)],
            [(-250.0, -250.0), (-200.0, -203.0)],
            [(250.0, 255.9), (-250.0, -250.0)],
        ] {
            let trim = Trim::<U7>::two_points(points[0], points[1]).unwrap();
            let words = points.map(|(read, real)| (read * 128.0, real * 128.0));
            let middle = (words[0].0 + words[1].0) / 2.0;
            let slope = (words[1].1 - words[0].1) / (words[1].0 - words[0].0);
            let mut before = i16::MIN;
            for word in i16::MIN..=i16::MAX {
                let exact = words[0].1 + slope * (f64::from(word) - words[0].0);
                let got = trim.apply_word(word);
                let bound = 0.5 + ((f64::from(word) - middle).abs() + 1.0) / 262_144.0 + 1e-9;
                let clamped = exact.clamp(-32_768.0, 32_767.0);
                assert!(
                    (f64::from(got) - clamped).abs() <= bound,
                    "{word}: {got} for {exact}"
                );
                assert!(got >= before, "{word}: {got} after {before}");
                before = got;
                cases += 1;
            }
        }
        assert_eq!(cases, 6 * 65_536);
    }

    /// One point moves every word by the same number of words, rounded to nearest.
    #[test]
    fn one_point_is_an_offset() {
        let mut cases = 0u32;
        for (read, real, by) in [(20.0, 21.0, 32), (20.0, 20.01, 0), (100.0, 98.25, -56)] {
            let trim = Trim::<U5>::one_point(read, real).unwrap();
            for word in i16::MIN..=i16::MAX {
                assert_eq!(trim.apply_word(word), word.saturating_add(by));
                cases += 1;
            }
        }
        assert_eq!(cases, 3 * 65_536);
        assert_eq!(Trim::<U7>::one_point(20.0, 20.0), Ok(Trim::NONE));
    }

    #[test]
    fn nonsense_is_refused() {
        type T = Trim<U7>;
        let two = T::two_points;
        assert_eq!(two((20.0, 19.0), (20.0, 21.0)), Err(TrimError::Equal));
        assert_eq!(two((20.0, 19.0), (30.0, 30.3)), Err(TrimError::Slope));
        assert_eq!(two((20.0, 20.0), (30.0, 20.0)), Err(TrimError::Slope));
        assert_eq!(two((20.0, 20.0), (30.0, 10.0)), Err(TrimError::Slope));
        assert_eq!(
            two((f64::NAN, 0.0), (30.0, 30.0)),
            Err(TrimError::Temperature)
        );
        assert_eq!(
            two((0.0, 0.0), (30.0, f64::INFINITY)),
            Err(TrimError::Temperature)
        );
        assert_eq!(T::one_point(300.0, 20.0), Err(TrimError::Temperature));
        assert_eq!(T::one_point(20.0, -50.0), Err(TrimError::Offset));
        assert_eq!(T::from_parts(T::SLOPE_MAX + 1, 0), Err(TrimError::Slope));
        assert_eq!(T::from_parts(-T::SLOPE_MAX - 1, 0), Err(TrimError::Slope));
        assert_eq!(T::from_parts(0, T::OFFSET_END), Err(TrimError::Offset));
        assert_eq!(T::from_parts(0, i32::MIN), Err(TrimError::Offset));
        let trim = T::one_point(20.0, 21.0).unwrap();
        let (slope, offset) = trim.parts();
        assert_eq!(T::from_parts(slope, offset), Ok(trim));
    }

    /// Nothing leaves 32 bits at the corners of what is accepted.
    #[test]
    fn no_corner_overflows() {
        type T = Trim<U7>;
        let mut cases = 0;
        for slope in [-T::SLOPE_MAX, 0, T::SLOPE_MAX] {
            for offset in [1 - T::OFFSET_END, 0, T::OFFSET_END - 1] {
                let trim = T::from_parts(slope, offset).unwrap();
                for word in [i16::MIN, -1, 0, i16::MAX] {
                    let wide = i64::from(slope) * i64::from(word) + i64::from(offset);
                    assert!(i32::try_from(wide).is_ok());
                    let exact = i64::from(word) + (wide >> 17);
                    let clamped = exact.clamp(-32_768, 32_767);
                    assert_eq!(i64::from(trim.apply_word(word)), clamped);
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 36);
    }

    #[test]
    fn each_of_four_temperatures_beyond_the_word_is_refused() {
        for (a, b) in [
            ((300.0, 0.0), (30.0, 30.0)),
            ((0.0, 300.0), (30.0, 30.0)),
            ((0.0, 0.0), (300.0, 30.0)),
            ((0.0, 0.0), (30.0, 300.0)),
        ] {
            assert_eq!(Trim::<U7>::two_points(a, b), Err(TrimError::Temperature));
        }
    }

    /// At a reading of zero up to 8 190 words, not 8 191.
    #[test]
    fn an_offset_is_refused_from_8191_words_on() {
        for sign in [1.0, -1.0] {
            let by = |words: f64| Trim::<U7>::one_point(0.0, sign * words / 128.0);
            assert_eq!(by(8_190.0).unwrap().apply_word(0), (sign * 8_190.0) as i16);
            assert_eq!(by(8_191.0), Err(TrimError::Offset));
        }
    }

    #[test]
    fn temperatures_and_tables_are_trimmed_as_words_are() {
        use crate::table::Uniform;
        let trim = Trim::<U7>::one_point(21.0, 20.5).unwrap();
        let reading = FixedI16::<U7>::lit("30.25");
        assert_eq!(trim.apply(reading), FixedI16::<U7>::lit("29.75"));
        let table = Uniform::<[i16; 3], 3, U7>::from_knots(100, 115, [2560, 2816, 3200]);
        let trimmed = Trimmed::new(table, trim);
        for code in 0..=u16::MAX {
            assert_eq!(trimmed.lookup(code), table.lookup(code) - 64);
        }
        assert_eq!((trimmed.table(), trimmed.trim()), (&table, &trim));
    }

    #[test]
    fn trims_differ_by_slope_or_offset_and_show_both() {
        let of = |slope, offset| Trim::<U7>::from_parts(slope, offset).unwrap();
        assert!(of(3, 70_000) == of(3, 70_000));
        assert!(of(3, 70_000) != of(4, 70_000) && of(3, 70_000) != of(3, 70_001));
        let shown = std::format!("{:?}", of(3, 70_000));
        assert_eq!(shown, "Trim { slope: 3, offset: 70000 }");
    }

    #[test]
    fn refusals_say_what_would_be_accepted() {
        for (error, accepted) in [
            (TrimError::Temperature, "temperatures within the word"),
            (
                TrimError::Equal,
                "two readings as far apart as the box's range allows",
            ),
            (
                TrimError::Slope,
                "7/8 to 9/8, beyond it curve, resistor or probe are wrong",
            ),
            (
                TrimError::Offset,
                "below 2^13 - 1 words at a reading of zero",
            ),
        ] {
            assert_eq!(error.message().split("; accepted: ").nth(1), Some(accepted));
            assert_eq!(std::format!("{error}"), error.message());
        }
    }
}
