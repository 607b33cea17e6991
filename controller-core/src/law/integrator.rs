//! The integrator and its static clamp.

use super::settings::Settings;
use crate::word::{Accumulator, Multiply, Narrow, Wide, Word};

/// The integral of the error, `I`, in duty with `n` fraction bits and the rounding half inside:
/// the word `w` stands for `I = (w - 2^(n-1)) / 2^n` output LSB.
///
/// Invariant, proven inductive: its upper half is in `lo..=hi` of the settings it is used with, that is,
/// `lo - 1/2 <= I < hi + 1/2`: exactly the values that round into the limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Integrator<N: Narrow> {
    pub(crate) word: N::Accumulator,
}

/// A law's state that holds an integrator, so that set-point changes, transfers and changes of gains
/// work alike on every law.
pub trait Integrating<N: Narrow> {
    /// The integrator.
    fn integrator(&self) -> Integrator<N>;
    /// Replaces the integrator.
    fn set_integrator(&mut self, integrator: Integrator<N>);
}

impl<N: Narrow> Integrator<N> {
    /// An integrator that stands for exactly `duty`, limited to the settings' `lo..=hi`.
    ///
    /// ```
    /// use controller_core::{gain::Mantissas, law::{Action, Integrator, Settings}};
    /// const S: Settings<i16, 8> =
    ///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 0 }, 6554, 32767, Action::Direct);
    /// assert_eq!(Integrator::exactly(&S, 20000).rounded(), 20000);
    /// assert_eq!(Integrator::exactly(&S, 10).rounded(), 6554);
    /// ```
    #[must_use]
    #[inline]
    pub fn exactly<const SP: u32>(settings: &Settings<N, SP>, duty: N) -> Self {
        Self {
            word: N::Accumulator::exactly(duty.clamp(settings.lo, settings.hi)),
        }
    }

    /// From the word that [`Integrator::word`] gave, limited to the settings' `lo..=hi`.
    #[must_use]
    #[inline]
    pub fn from_word<const SP: u32>(settings: &Settings<N, SP>, word: N::Accumulator) -> Self {
        let floor = N::Accumulator::floor_of(settings.lo);
        let ceiling = N::Accumulator::ceiling_of(settings.hi);
        Self {
            word: word.clamp(floor, ceiling),
        }
    }

    /// For proofs only: any word at all.
    #[must_use]
    pub fn assumed(word: N::Accumulator) -> Self
    where
        N: crate::word::Model,
    {
        Self { word }
    }

    /// The word itself, `I * 2^n + 2^(n-1)`.
    #[must_use]
    #[inline(always)]
    pub fn word(self) -> N::Accumulator {
        self.word
    }

    /// `round(I)` in output LSB: the upper half.
    #[must_use]
    #[inline(always)]
    pub fn rounded(self) -> N::Unsigned {
        self.word.top()
    }

    /// `I + increment`, the increment with `n` fraction bits, confined to the limits.
    #[must_use]
    #[inline(always)]
    pub fn advanced<const SP: u32, M: Multiply<N>>(
        self,
        settings: &Settings<N, SP>,
        increment: N::Wide,
    ) -> Self {
        Self {
            word: self
                .word
                .advanced(increment, settings.lo, settings.hi, M::WHOLE),
        }
    }

    /// `I + share`, the share at the scale of P (`SP` fraction bits), confined to the limits: the one
    /// mechanism behind bumpless changes of set point, gains and feed-forward. Exact: a share that
    /// would not fit the accumulator's scale carries `I` to its limit in any case.
    #[must_use]
    #[inline]
    pub fn absorbing<const SP: u32, M: Multiply<N>>(
        self,
        settings: &Settings<N, SP>,
        share: N::Wide,
    ) -> Self {
        // What does not fit moves I by the whole range of the duty or more.
        match share.upscale(N::BITS - SP) {
            Some(increment) => self.advanced::<SP, M>(settings, increment),
            None if share.below(N::Wide::literal(0)) => Self {
                word: N::Accumulator::floor_of(settings.lo),
            },
            None => Self {
                word: N::Accumulator::ceiling_of(settings.hi),
            },
        }
    }
}
