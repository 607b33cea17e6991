//! What a sample of the law sees: its error and its slope, as a type that nobody else can fill.

use super::{Action, pi};
use crate::setpoint::InDomain;
use crate::word::{Narrow, Wide, into_domain};

/// Error and slope of one sample, positive when more output is wanted: what a transfer needs to know of the last
/// sample. Both are differences of two words of the law's domain, so that neither is beyond `±(2^(n-1) - 1)`; a
/// larger one could overflow `kp*e + kd*g`, which is why there is no way to make one from words of one's own.
///
/// ```
/// use controller_core::law::{Action, Signals};
/// let seen = Signals::of(Action::Direct, 40 * 128_i16, 41 * 128);
/// assert_eq!((seen.error(), seen.slope()), (128, 0));
/// let far = Signals::of(Action::Direct, i16::MIN, i16::MAX); // clamped to the domain, as the law does
/// assert_eq!(far.error(), 32767);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signals<N: Narrow> {
    error: N::Wide,
    slope: N,
}

impl<N: Narrow> Signals<N> {
    /// Without a slope: for PI, or where the filter has just been seeded.
    #[must_use]
    #[inline(always)]
    pub fn of(action: Action, set_point: impl InDomain<N>, measurement: N) -> Self {
        Self {
            error: pi::error(action, set_point, measurement),
            slope: N::literal(0),
        }
    }

    /// With the slope from a filtered measurement to this one, in counts; all are clamped to the domain.
    /// [`super::PidState::signals`] forms it from a state.
    ///
    /// ```
    /// use controller_core::law::{Action, Signals};
    /// let seen = Signals::from_filtered(Action::Reverse, 24 * 128_i16, 20 * 128, 19 * 128);
    /// assert_eq!((seen.error(), seen.slope()), (512, -128));
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn from_filtered(
        action: Action,
        set_point: impl InDomain<N>,
        measurement: N,
        filtered: N,
    ) -> Self {
        let (measured, smooth) = (into_domain(measurement), into_domain(filtered));
        let slope = match action {
            Action::Direct => measured.minus(smooth),
            Action::Reverse => smooth.minus(measured),
        };
        Self {
            error: pi::error(action, set_point, measurement),
            slope,
        }
    }

    /// The error, `|e| <= 2^(n-1) - 1`.
    #[must_use]
    #[inline(always)]
    pub fn error(self) -> N::Wide {
        self.error
    }

    /// The same as a narrow word.
    #[must_use]
    #[inline(always)]
    pub fn narrow_error(self) -> N {
        self.error.narrow()
    }

    /// The slope, `|g| <= 2^(n-1) - 1`.
    #[must_use]
    #[inline(always)]
    pub fn slope(self) -> N {
        self.slope
    }

    /// For proofs only: any words at all.
    #[must_use]
    pub fn assumed(error: N::Wide, slope: N) -> Self
    where
        N: crate::word::Model,
    {
        Self { error, slope }
    }
}
