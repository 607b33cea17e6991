//! Duty: what an actuator is asked for, as a share of everything it can give.
//!
//! A duty is a word `d` in `0 ..= ONE`, `ONE = 2^15 - 1 = 32 767`, and means the share `d / ONE`
//! (Q-format with a top of *exactly* 1: `0x8000` is not used, because sums of two such words
//! would wrap). One step is 1/32 767, about 0.003 %.
//!
//! A timer that counts `TOP` clocks a period wants the compare value `round(d * TOP / ONE)`.
//! Division by `2^k - 1` needs no divider: with `y = q0 * 2^k + rem` one has
//! `y = q0 * (2^k - 1) + (q0 + rem)`, so the rest of the quotient is that of `q0 + rem`, in which
//! the divisor fits three times at most: three comparisons.

/// A share of full output: `0` is off, [`Duty::ONE`] is exactly everything.
///
/// Unit: 1. Scale: `1 / 32 767` a step. Range: `0 ..= 32 767`, established by every constructor,
/// so that no later step of the path checks it again.
///
/// ```
/// use controller_core::duty::Duty;
/// const QUARTER: Duty = Duty::fraction(0.25);
/// assert_eq!(QUARTER.bits(), 8192);
/// assert_eq!(QUARTER.to_compare(400), 100);
/// assert_eq!(Duty::FULL.to_compare(400), 400); // exact at both ends
/// assert_eq!(Duty::OFF.to_compare(400), 0);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(try_from = "i16", into = "i16"))]
#[repr(transparent)]
pub struct Duty(i16);

impl Duty {
    /// The word that means exactly 1: `2^15 - 1`.
    pub const ONE: i16 = i16::MAX;
    /// No output at all.
    pub const OFF: Self = Self(0);
    /// Everything the actuator has.
    pub const FULL: Self = Self(Self::ONE);

    /// A duty from its word; `None` for a negative word.
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// assert_eq!(Duty::new(16_384).map(Duty::bits), Some(16_384));
    /// assert_eq!(Duty::new(-1), None);
    /// ```
    #[must_use]
    pub const fn new(bits: i16) -> Option<Self> {
        if bits < 0 { None } else { Some(Self(bits)) }
    }

    /// A duty from the law's demand word. A negative word, which a law with limits inside
    /// `0 ..= ONE` never gives, becomes [`Duty::OFF`].
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// assert_eq!(Duty::saturating(-7), Duty::OFF);
    /// ```
    #[must_use]
    #[inline]
    pub const fn saturating(bits: i16) -> Self {
        if bits < 0 { Self::OFF } else { Self(bits) }
    }

    /// A duty from a word, for `const` items.
    ///
    /// # Panics
    /// When the word is negative; in a `const` item that is a compile error.
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// const FLOOR: Duty = Duty::constant(6_553);
    /// assert_eq!(FLOOR.bits(), 6_553);
    /// ```
    #[must_use]
    pub const fn constant(bits: i16) -> Self {
        match Self::new(bits) {
            Some(duty) => duty,
            None => panic!("duty below 0; accepted: 0 ..= 32767, where 32767 is exactly 1"),
        }
    }

    /// A duty from a real share, rounded to the nearest word, for `const` items (floating point
    /// is evaluated by the compiler and never reaches a target).
    ///
    /// # Panics
    /// When the share is not a number or outside `0 ..= 1`; in a `const` item that is a compile
    /// error.
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// const STALL_FLOOR: Duty = Duty::fraction(0.2);
    /// assert_eq!(STALL_FLOOR.bits(), 6_553);
    /// ```
    /// ```compile_fail
    /// use controller_core::duty::Duty;
    /// const TOO_MUCH: Duty = Duty::fraction(1.01);
    /// fn main() { assert!(TOO_MUCH > Duty::FULL) }
    /// ```
    #[must_use]
    pub const fn fraction(share: f64) -> Self {
        assert!(
            share >= 0.0 && share <= 1.0,
            "duty fraction outside 0 ..= 1 (or not a number)"
        );
        Self((share * Self::ONE as f64 + 0.5) as i16)
    }

    /// The word, `0 ..= 32 767`.
    #[must_use]
    #[inline]
    pub const fn bits(self) -> i16 {
        self.0
    }

    /// The compare value for a timer of `top` clocks a period: `round(duty * top / ONE)`, with no
    /// tie possible because `ONE` is odd.
    ///
    /// Exact at both ends ([`Duty::OFF`] gives 0, [`Duty::FULL`] gives `top`), never above `top`,
    /// monotone in the duty, error at most half a clock. Any `top` works; below 16 the steps are
    /// coarser than 6 % and the drives of this crate refuse it. No division: one 16 x 16
    /// multiply, shifts and adds.
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// // 16 MHz counted to 640 is the 25 kHz of a four-wire fan
    /// assert_eq!(Duty::fraction(0.3).to_compare(640), 192);
    /// ```
    #[must_use]
    #[inline]
    pub const fn to_compare(self, top: u16) -> u16 {
        let product = self.0 as u32 * top as u32;
        divide_by_ones::<15>(product + (1 << 14) - 1).0
    }

    /// Whole clocks and what is left: `duty * top = clocks * ONE + rest`, `0 <= rest < ONE`.
    /// The first feeds a compare register, the second is what an error feedback carries on.
    ///
    /// ```
    /// use controller_core::duty::Duty;
    /// let (clocks, rest) = Duty::fraction(0.5).split(255);
    /// assert_eq!((clocks, rest), (127, 16_511));
    /// assert_eq!(127 * 32_767 + 16_511, 16_384 * 255);
    /// ```
    #[must_use]
    #[inline]
    pub const fn split(self, top: u16) -> (u16, u16) {
        divide_by_ones::<15>(self.0 as u32 * top as u32)
    }
}

/// A negative word is no duty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NegativeDuty(pub i16);

impl core::fmt::Display for NegativeDuty {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "duty {}; accepted: 0 ..= 32767, where 32767 is exactly 1",
            self.0
        )
    }
}

impl core::error::Error for NegativeDuty {}

impl TryFrom<i16> for Duty {
    type Error = NegativeDuty;

    fn try_from(bits: i16) -> Result<Self, NegativeDuty> {
        Self::new(bits).ok_or(NegativeDuty(bits))
    }
}

impl From<Duty> for i16 {
    fn from(duty: Duty) -> Self {
        duty.0
    }
}

/// Quotient and rest of `y / (2^K - 1)` without a division, for `y < 2^(2K + 1)` (see the module
/// head). In 16-bit words throughout: a 32-bit shift by 15 is a loop on the smallest targets.
#[must_use]
#[inline]
pub(crate) const fn divide_by_ones<const K: u32>(y: u32) -> (u16, u16) {
    debug_assert!(K >= 1 && K <= 15 && y < 1 << (2 * K + 1));
    let one = (1_u16 << K) - 1;
    let low = y as u16;
    let first = ((y >> 16) as u16) << (16 - K) | low >> K;
    // y = first * 2^K + low part = first * one + (first + low part): reduce the bracket. `first` is
    // below 2^(K + 1), so at most two times `one` is in it, and then at most once in the sum.
    let mut quotient = first;
    let mut rest = first;
    if rest >= one {
        rest -= one;
        quotient = quotient.wrapping_add(1);
    }
    if rest >= one {
        rest -= one;
        quotient = quotient.wrapping_add(1);
    }
    rest = rest.wrapping_add(low & one);
    if rest >= one {
        rest -= one;
        quotient = quotient.wrapping_add(1);
    }
    (quotient, rest)
}

#[cfg(test)]
mod tests {
    use super::{Duty, divide_by_ones};

    /// The ends, powers of two and their neighbours, timers in common use, and a spread between.
    const TOPS: [u16; 24] = [
        16, 17, 31, 32, 100, 127, 128, 255, 256, 320, 399, 400, 640, 1000, 1023, 1024, 4095, 9999,
        16_383, 32_766, 32_767, 32_768, 65_534, 65_535,
    ];

    #[test]
    fn compare_is_the_rounded_product_for_every_duty() {
        let mut cases = 0_u32;
        for top in TOPS {
            for bits in 0..=Duty::ONE {
                let duty = Duty::constant(bits);
                let product = u64::from(bits as u16) * u64::from(top);
                let rounded = (2 * product + 32_767) / (2 * 32_767);
                assert_eq!(u64::from(duty.to_compare(top)), rounded, "{bits} of {top}");
                let (clocks, rest) = duty.split(top);
                assert_eq!(u64::from(clocks), product / 32_767, "{bits} of {top}");
                assert_eq!(u64::from(rest), product % 32_767, "{bits} of {top}");
                cases += 1;
            }
            assert_eq!(Duty::FULL.to_compare(top), top);
            assert_eq!(Duty::OFF.to_compare(top), 0);
        }
        assert_eq!(cases, 24 * 32_768);
    }

    #[test]
    fn every_timer_period_at_the_ends_and_around_the_middle() {
        let mut cases = 0_u32;
        for top in 0..=u16::MAX {
            for bits in [0, 1, 2, 16_383, 16_384, 32_765, 32_766, 32_767] {
                let product = bits as u64 * u64::from(top);
                let rounded = (2 * product + 32_767) / (2 * 32_767);
                let compare = Duty::constant(bits).to_compare(top);
                assert_eq!(u64::from(compare), rounded, "{bits} of {top}");
                cases += 1;
            }
        }
        assert_eq!(cases, 8 * 65_536);
    }

    #[test]
    fn the_narrow_division_is_right_for_every_input_it_accepts() {
        let mut cases = 0_u32;
        for y in 0..1_u32 << 15 {
            assert_eq!(divide_by_ones::<7>(y), ((y / 127) as u16, (y % 127) as u16));
            cases += 1;
        }
        assert_eq!(cases, 32_768);
    }

    #[test]
    fn a_word_below_zero_is_no_duty_or_off() {
        for bits in [i16::MIN, -7, -1] {
            assert_eq!((Duty::new(bits), Duty::saturating(bits)), (None, Duty::OFF));
        }
        for bits in [0, 1, 20_000, i16::MAX] {
            let duty = Duty::constant(bits);
            assert_eq!(
                (Duty::new(bits), Duty::saturating(bits)),
                (Some(duty), duty)
            );
        }
    }

    #[test]
    fn words_convert_both_ways_and_a_negative_one_is_refused() {
        assert_eq!(Duty::try_from(1_234_i16).map(i16::from), Ok(1_234));
        let error = Duty::try_from(-1_i16).unwrap_err();
        assert_eq!(
            std::format!("{error}"),
            "duty -1; accepted: 0 ..= 32767, where 32767 is exactly 1"
        );
    }

    #[cfg(feature = "serde")]
    #[test]
    fn a_duty_travels_as_its_word_and_is_checked_on_arrival() {
        assert_eq!(serde_json::to_string(&Duty::FULL).unwrap(), "32767");
        assert_eq!(
            serde_json::from_str::<Duty>("6553").unwrap(),
            Duty::constant(6_553)
        );
        assert!(serde_json::from_str::<Duty>("-1").is_err());
        assert!(serde_json::from_str::<Duty>("32768").is_err());
    }

    #[test]
    fn fractions_round_to_the_nearest_word() {
        assert_eq!(Duty::fraction(0.0), Duty::OFF);
        assert_eq!(Duty::fraction(1.0), Duty::FULL);
        assert_eq!(Duty::fraction(0.5).bits(), 16_384); // 16 383.5 goes up
        assert_eq!(Duty::fraction(1.49 / 32_767.0).bits(), 1);
        assert_eq!(Duty::fraction(1.51 / 32_767.0).bits(), 2);
    }
}
