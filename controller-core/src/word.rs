//! The words the law computes on, and the few operations it may use on them.
//!
//! Everything the control law does is written once over the traits of this module, with ordinary
//! `if`. Firmware runs it on integers ([`i8`], [`i16`], [`i32`]); the host runs the very same
//! functions on intervals, which bounds every intermediate, and on symbols, which turns them into
//! formulas for a solver. What is proven is therefore the source that ships.
//!
//! A *narrow* word of `n` bits carries a signal (a temperature, a duty). A *wide* word of `2n` bits
//! carries products and sums. An *unsigned* word of `n` bits carries a gain. The *accumulator*, `2n`
//! bits unsigned, carries the integrator with its rounding half.
//!
//! | | narrow | wide | unsigned | accumulator |
//! |---|---|---|---|---|
//! | 8/16 (for exhaustive proof only) | `i8` | `i16` | `u8` | `u16` |
//! | 16/32 | `i16` | `i32` | `u16` | `u32` |
//! | 32/64 | `i32` | `i64` | `u32` | `u64` |
//!
//! Operations come in two kinds. *Exact* ones ([`Word::plus`], [`Word::minus`], [`Wide::times`],
//! [`Word::shift_left`], [`Wide::narrow`], ...) are proven never to wrap or to lose a bit at any
//! place they are used; they compile to a bare instruction and are checked when debug assertions are
//! on. *Clipping* ones ([`Word::saturating_plus`], [`Word::clamp`]) are allowed to limit. One alone may
//! wrap, [`Accumulator::turned`], in a single known way that the comparison after it looks for.
//!
//! Shift counts are plain numbers in the signatures, because stable Rust has no arithmetic on const
//! generics, but every caller passes a constant: after inlining no variable shift is left. On machines
//! without a barrel shifter a variable 32-bit shift costs more than the whole update.

mod integer;

/// What every word can do.
pub trait Word: Copy + Eq + core::fmt::Debug {
    /// The word of this value. The value must be representable.
    fn literal(value: i64) -> Self;
    /// `self + other`, exact.
    #[must_use]
    fn plus(self, other: Self) -> Self;
    /// `self - other`, exact.
    #[must_use]
    fn minus(self, other: Self) -> Self;
    /// `self + other`, limited to the range of the word.
    #[must_use]
    fn saturating_plus(self, other: Self) -> Self;
    /// `self * 2^by`, exact. `by` is a constant.
    #[must_use]
    fn shift_left(self, by: u32) -> Self;
    /// `floor(self / 2^by)`. `by` is a constant.
    #[must_use]
    fn shift_right(self, by: u32) -> Self;
    /// Is `self < other`?
    #[must_use]
    fn below(self, other: Self) -> bool;
    /// Is `self` in `lo..=hi`? `lo <= hi`. One comparison on a machine.
    #[must_use]
    fn within(self, lo: Self, hi: Self) -> bool;
    /// The nearest word in `lo..=hi`; `lo <= hi`.
    #[must_use]
    #[inline(always)]
    fn clamp(self, lo: Self, hi: Self) -> Self {
        if self.below(lo) {
            lo
        } else if hi.below(self) {
            hi
        } else {
            self
        }
    }
    /// The same, laid out for a word that is usually inside: [`confine`].
    #[must_use]
    #[inline(always)]
    fn confined(self, lo: Self, hi: Self) -> Self {
        confine(self, lo, hi)
    }
}

/// A signed word of `n` bits: a signal.
pub trait Narrow: Word {
    /// `n`.
    const BITS: u32;
    /// Signed, `2n` bits.
    type Wide: Wide<Narrow = Self>;
    /// Unsigned, `n` bits.
    type Unsigned: Unsigned<Narrow = Self, Wide = Self::Wide>;
    /// Unsigned, `2n` bits.
    type Accumulator: Accumulator<Narrow = Self>;
    /// The same value in twice the bits.
    #[must_use]
    fn widen(self) -> Self::Wide;
    /// The same value, which is not negative, as an unsigned word. Exact.
    #[must_use]
    fn unsigned(self) -> Self::Unsigned;
}

/// A signed word of `2n` bits: products and sums.
pub trait Wide: Word {
    /// Signed, `n` bits.
    type Narrow: Narrow<Wide = Self>;
    /// `self * other`, exact.
    #[must_use]
    fn times(self, other: Self) -> Self;
    /// The same value in half the bits, exact.
    #[must_use]
    fn narrow(self) -> Self::Narrow;
    /// The upper half: `floor(self / 2^n)`.
    #[must_use]
    fn top(self) -> Self::Narrow;
    /// `floor(self / 2^by)` in half the bits, if `self` is in `0..2^(n-1+by)` so that it fits there
    /// without a sign. One comparison of the upper half. `by` is a constant, `1..=n`.
    #[must_use]
    fn descale(self, by: u32) -> Option<Self::Narrow>;
    /// `self * 2^by`, if that fits. `by` is a constant.
    #[must_use]
    fn upscale(self, by: u32) -> Option<Self>;
}

/// An unsigned word of `n` bits: a gain, or the upper half of an accumulator.
pub trait Unsigned: Word {
    /// Signed, `n` bits.
    type Narrow: Narrow<Unsigned = Self, Wide = Self::Wide>;
    /// Signed, `2n` bits.
    type Wide: Wide<Narrow = Self::Narrow>;
    /// The same value as a signed word of `2n` bits.
    #[must_use]
    fn widen(self) -> Self::Wide;
}

/// An unsigned word of `2n` bits: the integrator, scaled by `2^n`, with its rounding half inside.
pub trait Accumulator: Word {
    /// Signed, `n` bits.
    type Narrow: Narrow<Accumulator = Self>;
    /// The least accumulator whose upper half is `top`, which is not negative.
    #[must_use]
    fn floor_of(top: Self::Narrow) -> Self;
    /// The greatest accumulator whose upper half is `top`, which is not negative.
    #[must_use]
    fn ceiling_of(top: Self::Narrow) -> Self;
    /// The accumulator that stands for exactly `value` (not negative): its rounding half and nothing
    /// else in the lower half.
    #[must_use]
    fn exactly(value: Self::Narrow) -> Self;
    /// The upper half.
    #[must_use]
    fn top(self) -> <Self::Narrow as Narrow>::Unsigned;
    /// `floor(self / 2^by)` as a signed word, exact. `by` is a constant, at least 1 or `self` below
    /// `2^(2n-1)`.
    #[must_use]
    fn descale(self, by: u32) -> <Self::Narrow as Narrow>::Wide;
    /// `self + by` modulo `2^(2n)`. `self` below `2^(2n-1)`, so that only a negative sum wraps, to a word of
    /// `2^(2n-1)` or above.
    #[must_use]
    fn turned(self, by: <Self::Narrow as Narrow>::Wide) -> Self;
    /// `self + by`, or nothing when that is negative. `self` below `2^(2n-1)`, so that the sum fits.
    #[must_use]
    fn offset(self, by: <Self::Narrow as Narrow>::Wide) -> Option<Self>;
    /// `self + by`, limited to the words whose upper half is in `lo..=hi` (not negative, `lo <= hi`). `self` below
    /// `2^(2n-1)`. `whole`: see [`Multiply::WHOLE`].
    #[must_use]
    #[inline(always)]
    fn advanced(
        self,
        by: <Self::Narrow as Narrow>::Wide,
        lo: Self::Narrow,
        hi: Self::Narrow,
        whole: bool,
    ) -> Self {
        advance(self, by, lo, hi, whole)
    }
}

/// What [`Word::confined`] does on machines: one comparison for a word inside its limits. Proven equal to
/// [`Word::clamp`], in whose place models put their own.
#[must_use]
#[inline(always)]
pub fn confine<W: Word>(word: W, lo: W, hi: W) -> W {
    if word.within(lo, hi) {
        return word;
    }
    rarely();
    if word.below(lo) { lo } else { hi }
}

/// What [`Accumulator::advanced`] does on machines: one comparison for a sum inside its limits. Proven to be the
/// sum, limited, which models put in its place.
#[must_use]
#[inline(always)]
pub fn advance<A: Accumulator>(
    word: A,
    by: <A::Narrow as Narrow>::Wide,
    lo: A::Narrow,
    hi: A::Narrow,
    whole: bool,
) -> A {
    let (floor, ceiling) = (lo.unsigned(), hi.unsigned());
    // A negative sum has turned to beyond every limit.
    let sum = word.turned(by);
    let inside = if whole {
        sum.top().widen().within(floor.widen(), ceiling.widen())
    } else {
        sum.top().within(floor, ceiling)
    };
    if inside {
        return sum;
    }
    rarely();
    match word.offset(by) {
        Some(sum) if !sum.top().below(floor) => A::ceiling_of(hi),
        _ => A::floor_of(lo),
    }
}

/// Marks words that stand for many values at once (intervals, symbols). The integers do not have it
/// and cannot get it from outside, so that only a proof can skip the checks of a constructor.
pub trait Model {}

/// How a target multiplies a gain by a signal, and how wide its comparisons are.
///
/// The defaults are right for most machines. A target whose compiler calls a full 32x32 multiply for
/// a 16x16 product can name a better one here.
pub trait Multiply<N: Narrow> {
    /// `true` where comparing whole wide words is as cheap as comparing their upper halves: by
    /// default on machines whose addresses are as wide as the wide word.
    const WHOLE: bool = usize::BITS >= 2 * N::BITS;

    /// `gain * signal`, exact. The signal is never the least word of its type: `|signal| <= 2^(n-1) - 1`.
    #[must_use]
    #[inline(always)]
    fn multiply(gain: N::Unsigned, signal: N) -> N::Wide {
        gain.widen().times(signal.widen())
    }

    /// The same for a signal that is already held in a wide word.
    #[must_use]
    #[inline(always)]
    fn multiply_widened(gain: N::Unsigned, signal: N::Wide) -> N::Wide {
        if Self::WHOLE {
            gain.widen().times(signal)
        } else {
            Self::multiply(gain, signal.narrow())
        }
    }
}

/// The compiler's own multiply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Native;

impl<N: Narrow> Multiply<N> for Native {}

/// The least word of the law's domain, `-2^(n-2)`: -128 degC at `FixedI16<U7>`.
#[must_use]
#[inline(always)]
pub fn domain_min<N: Narrow>() -> N {
    N::literal(-(1 << (N::BITS - 2)))
}

/// The greatest word of the law's domain, `2^(n-2) - 1`: just under +128 degC at `FixedI16<U7>`.
#[must_use]
#[inline(always)]
pub fn domain_max<N: Narrow>() -> N {
    N::literal((1 << (N::BITS - 2)) - 1)
}

/// The nearest word of the law's domain, so that a difference of two fits its word with room for a
/// change of sign.
#[must_use]
#[inline(always)]
pub fn into_domain<N: Narrow>(signal: N) -> N {
    signal.clamp(domain_min(), domain_max())
}

/// Marks a path that a settled loop does not take, so that the compiler lays the other in a straight line.
#[cold]
#[inline(always)]
fn rarely() {}

#[cfg(test)]
mod tests;
