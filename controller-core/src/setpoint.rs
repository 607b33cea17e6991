//! The set point: its domain, and how the law takes a change of it.
//!
//! A set-point weight must never be applied inside P: with an integrator confined to `lo..=hi` that
//! destroys integral action (weight 1/2, 5 %/K, set point 40 degC: stuck at 95 % for ever, 1 K too
//! cold). Instead the integrator *absorbs* the part of P's step that is not wanted, once, at the change.

use crate::law::{Integrating, Settings};
use crate::word::{Multiply, Narrow, Wide, Word, into_domain};

/// The set-point weight `b`: what share of a set-point change P passes on at once. 1 is the plain law,
/// 0 a bumpless change. Scaled so that 1 is `2^(n-2)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weight<N: Narrow>(N);

impl<N: Narrow> Weight<N> {
    /// `b = 0`: no step of the output.
    #[must_use]
    #[inline]
    pub fn bumpless() -> Self {
        Self(N::literal(0))
    }

    /// `b = 1`: the plain law, P takes the whole step.
    #[must_use]
    #[inline]
    pub fn plain() -> Self {
        Self(Self::one())
    }

    /// From a word where `2^(n-2)` means 1; limited to 0..=1.
    ///
    /// ```
    /// use controller_core::setpoint::Weight;
    /// assert_eq!(Weight::<i16>::from_word(16384), Weight::plain());
    /// ```
    #[must_use]
    #[inline]
    pub fn from_word(word: N) -> Self {
        Self(word.clamp(N::literal(0), Self::one()))
    }

    #[inline(always)]
    fn one() -> N {
        N::literal(1 << (N::BITS - 2))
    }

    /// `round((1 - b) * kp)`: the part of the gain whose step the integrator takes. Exact at both ends.
    #[must_use]
    #[inline]
    pub fn absorbed_gain<M: Multiply<N>>(self, kp: N::Unsigned) -> N::Wide {
        let share = Self::one().minus(self.0);
        M::multiply(kp, share)
            .plus(N::Wide::literal(1 << (N::BITS - 3)))
            .shift_right(N::BITS - 2)
    }
}

/// Tells the law that the set point goes from `old` to `new` (both are clamped to the domain, as the
/// step does): the integrator takes `(1 - b) * kp * (new - old)`, exactly, and is clamped.
///
/// Call it once, between two samples. At `b = 0` the output does not move at all while the wanted
/// integrator fits its limits; otherwise it goes to the nearest attainable output, between no bump and
/// the full kick. Because the share is a fixed gain, moving away and back restores the integrator
/// exactly (while it stays inside its limits).
///
/// ```
/// use controller_core::{gain::Mantissas, law::{pi, Action, Integrating, Integrator, PiState, Settings}};
/// use controller_core::{setpoint::{set_point_change, Weight}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::with(Integrator::exactly(&S, 16000));
/// let before = pi::step::<_, 8, Native>(&S, &mut state, 40 * 128, 41 * 128);
/// set_point_change::<_, 8, Native>(&S, &mut state, 40 * 128, 45 * 128, Weight::bumpless());
/// assert_eq!(pi::step::<_, 8, Native>(&S, &mut state, 45 * 128, 41 * 128), before);
/// ```
#[inline]
pub fn set_point_change<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Integrating<N>,
    old: impl InDomain<N>,
    new: impl InDomain<N>,
    weight: Weight<N>,
) {
    let (old, new) = (old.in_domain(), new.in_domain());
    let change = match settings.action() {
        crate::law::Action::Direct => new.minus(old),
        crate::law::Action::Reverse => old.minus(new),
    };
    let gain = weight.absorbed_gain::<M>(settings.mantissas().kp);
    let share = gain.times(change.widen());
    state.set_integrator(state.integrator().absorbing::<SP, M>(settings, share));
}

/// Why a set point was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutsideDomain {
    /// The set point asked for, in counts.
    pub counts: i64,
    /// The least accepted.
    pub least: i64,
    /// The greatest accepted.
    pub greatest: i64,
}

impl core::fmt::Display for OutsideDomain {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "set point {} counts; the law's domain is {}..={}",
            self.counts, self.least, self.greatest
        )
    }
}

impl core::error::Error for OutsideDomain {}

/// A set point inside the law's domain `-2^(n-2)..=2^(n-2)-1`, in temperature counts.
///
/// ```
/// use controller_core::setpoint::SetPoint;
/// const WANTED: SetPoint<i16> = SetPoint::<i16>::constant(40 * 128); // 40 degC at 1/128 degC
/// assert_eq!(SetPoint::<i16>::new(16384).unwrap_err().greatest, 16383);
/// assert_eq!(WANTED.counts(), 5120);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SetPoint<N: Narrow>(N);

impl<N: Narrow> SetPoint<N> {
    /// The counts.
    #[must_use]
    #[inline(always)]
    pub fn counts(self) -> N {
        self.0
    }

    /// The nearest set point of the domain.
    #[must_use]
    #[inline]
    pub fn nearest(counts: N) -> Self {
        Self(into_domain(counts))
    }
}

/// A set point that a law's step accepts: a plain word, which is clamped to the domain at every step, or
/// a [`SetPoint`], whose constructor has seen to that already and which saves the clamp.
///
/// Nothing else can be one: the law takes its word for it.
///
/// ```compile_fail,E0277
/// use controller_core::setpoint::InDomain;
/// struct Far;
/// impl InDomain<i16> for Far {
///     fn in_domain(self) -> i16 {
///         i16::MAX // the error would wrap
///     }
/// }
/// ```
pub trait InDomain<N: Narrow>: sealed::Sealed<N> {
    /// The counts, inside the law's domain.
    #[must_use]
    fn in_domain(self) -> N;
}

mod sealed {
    /// What may promise to lie in the domain.
    pub trait Sealed<N> {}
    impl<N: crate::word::Narrow> Sealed<N> for N {}
    impl<N: crate::word::Narrow> Sealed<N> for super::SetPoint<N> {}
}

impl<N: Narrow> InDomain<N> for N {
    #[inline(always)]
    fn in_domain(self) -> N {
        into_domain(self)
    }
}

impl<N: Narrow> InDomain<N> for SetPoint<N> {
    #[inline(always)]
    fn in_domain(self) -> N {
        self.0
    }
}

macro_rules! set_point {
    ($narrow:ty) => {
        impl SetPoint<$narrow> {
            /// Checks a set point.
            ///
            /// # Errors
            /// [`OutsideDomain`] with the range that is accepted.
            pub const fn new(counts: $narrow) -> Result<Self, OutsideDomain> {
                const LEAST: $narrow = -(1 << (<$narrow>::BITS - 2));
                const GREATEST: $narrow = (1 << (<$narrow>::BITS - 2)) - 1;
                if counts < LEAST || counts > GREATEST {
                    return Err(OutsideDomain { counts: counts as i64, least: LEAST as i64, greatest: GREATEST as i64 });
                }
                Ok(Self(counts))
            }

            /// The same for a `const` item: a set point outside the domain does not compile.
            ///
            /// # Panics
            /// When [`SetPoint::new`] would refuse; in a `const` item that is a compile error.
            ///
            /// ```compile_fail,E0080
            /// use controller_core::setpoint::SetPoint;
            /// const WANTED: SetPoint<i16> = SetPoint::<i16>::constant(20_000); // beyond 16383
            /// # let _ = WANTED;
            /// ```
            #[must_use]
            pub const fn constant(counts: $narrow) -> Self {
                match Self::new(counts) {
                    Ok(set_point) => set_point,
                    Err(_) => panic!("the set point lies outside the law's domain of a quarter of the word either way"),
                }
            }
        }
    };
}
set_point!(i8);
set_point!(i16);
set_point!(i32);
