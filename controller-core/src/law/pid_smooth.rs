//! PID whose derivative filter has any time constant, at the price of one more multiply.
//!
//! [`super::pid`] filters over `2^K` samples with shifts alone. Here the filter's share a sample is a
//! mantissa `a`, scaled `2^n`: `filtered += a * (measurement - filtered)`, the product kept in full, so the
//! residue is kept as well. For a filter time `Tf` and a period `h` the textbook's backward difference
//! `D[j] = Tf/(Tf+h) D[j-1] - kd/(Tf+h) (y[j] - y[j-1])` (Astrom and Murray, Feedback Systems, 2008, section
//! 10.5) is met with `a = h/(Tf+h)` and a derivative gain of `kd/(Tf+h)`.

use super::{Action, Integrating, Integrator, Settings, Terms, output};
use crate::setpoint::InDomain;
use crate::word::{
    Accumulator, Multiply, Narrow, Unsigned, Wide, Word, domain_max, domain_min, into_domain,
};

/// The state: integrator, and the filtered measurement with `n` fraction bits. 8 bytes at 16/32.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SmoothState<N: Narrow> {
    integrator: Integrator<N>,
    /// Invariant: `-2^(n-2) <= filtered / 2^n < 2^(n-2)`.
    filtered: N::Wide,
}

impl<N: Narrow> SmoothState<N> {
    /// A state with this integrator, the filter seeded with this measurement.
    #[must_use]
    #[inline]
    pub fn with(integrator: Integrator<N>, measurement: N) -> Self {
        Self {
            integrator,
            filtered: into_domain(measurement).widen().shift_left(N::BITS),
        }
    }

    /// A state from the words of an earlier one ([`Integrator::word`], [`SmoothState::filtered`]), each limited to its
    /// invariant: for a warm restart.
    #[must_use]
    #[inline]
    pub fn restored<const SP: u32>(
        settings: &Settings<N, SP>,
        integrator: N::Accumulator,
        filtered: N::Wide,
    ) -> Self {
        let least = domain_min::<N>().widen().shift_left(N::BITS);
        let greatest = domain_max::<N>()
            .widen()
            .shift_left(N::BITS)
            .plus(N::Wide::literal((1 << N::BITS) - 1));
        Self {
            integrator: Integrator::from_word(settings, integrator),
            filtered: filtered.clamp(least, greatest),
        }
    }

    /// The filtered measurement with `n` fraction bits.
    #[must_use]
    #[inline]
    pub fn filtered(&self) -> N::Wide {
        self.filtered
    }

    /// For proofs only: any filter word at all.
    #[must_use]
    pub fn assumed(integrator: Integrator<N>, filtered: N::Wide) -> Self
    where
        N: crate::word::Model,
    {
        Self {
            integrator,
            filtered,
        }
    }
}

impl<N: Narrow> Integrating<N> for SmoothState<N> {
    #[inline(always)]
    fn integrator(&self) -> Integrator<N> {
        self.integrator
    }
    #[inline(always)]
    fn set_integrator(&mut self, integrator: Integrator<N>) {
        self.integrator = integrator;
    }
}

/// `kp*e`, `kd*g` at the scale of P, and `ki*e` at the integrator's.
fn products<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    filtered: N::Wide,
    set_point: N,
    measurement: N,
) -> (N::Wide, N::Wide, N::Wide) {
    let rise = measurement.minus(filtered.top());
    let (error, slope) = match settings.action {
        Action::Direct => (measurement.minus(set_point), rise),
        Action::Reverse => (
            set_point.minus(measurement),
            filtered.top().minus(measurement),
        ),
    };
    (
        M::multiply(settings.kp, error),
        M::multiply(settings.kd, slope),
        M::multiply(settings.ki, error),
    )
}

/// One sample. `smoothing` is `h/(Tf+h)` scaled `2^n`; units and guarantees otherwise as
/// [`super::pid::step`].
///
/// ```
/// use controller_core::{gain::Mantissas, law::{Action, Integrator, Settings}, word::Native};
/// use controller_core::law::pid_smooth::{SmoothState, step};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 0, ki: 0, kd: 2560 }, 0, 32767, Action::Direct);
/// let mut state = SmoothState::with(Integrator::exactly(&S, 10000), 0);
/// // 1 K in one sample: D = 10 * 128 LSB, then a fifth less each sample (a = 13107 / 65536).
/// assert_eq!(step::<_, 8, Native>(&S, &mut state, 13107, 0, 128), 11280);
/// assert_eq!(step::<_, 8, Native>(&S, &mut state, 13107, 0, 128), 11030);
/// ```
#[inline]
pub fn step<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut SmoothState<N>,
    smoothing: N::Unsigned,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let (set_point, measurement) = (set_point.in_domain(), into_domain(measurement));
    let (p, d, increment) = products::<N, SP, M>(settings, state.filtered, set_point, measurement);
    let rise = measurement.minus(state.filtered.top());
    state.filtered = state.filtered.plus(M::multiply(smoothing, rise));
    let demand = output::demand::<N, SP, M>(
        settings,
        p.plus(d).plus(state.integrator.word.descale(N::BITS - SP)),
    );
    state.integrator = state.integrator.advanced::<SP, M>(settings, increment);
    demand
}

/// The terms that [`step`] would form from this state, without changing it.
#[must_use]
#[inline]
pub fn terms<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &SmoothState<N>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> Terms<N> {
    let (set_point, measurement) = (set_point.in_domain(), into_domain(measurement));
    let (p, d, _) = products::<N, SP, M>(settings, state.filtered, set_point, measurement);
    let sum = p.plus(d).plus(state.integrator.word.descale(N::BITS - SP));
    Terms {
        p: p.shift_right(SP),
        i: state.integrator.rounded().widen(),
        d: d.shift_right(SP),
        unclamped: sum.shift_right(SP),
        demand: output::demand::<N, SP, M>(settings, sum),
    }
}

#[cfg(test)]
mod tests {
    use super::SmoothState;
    use crate::gain::Mantissas;
    use crate::law::{Action, Integrating, Integrator, Settings};

    #[test]
    fn restored_words_are_limited_to_the_domain() {
        let gains = Mantissas {
            kp: 1_300,
            ki: 65,
            kd: 40,
        };
        let settings = Settings::<i16, 8>::constant(gains, 0, 32_767, Action::Direct);
        let integrator = Integrator::exactly(&settings, 7_000);
        let (least, greatest) = (-16_384 << 16, (16_383 << 16) + 65_535);
        for (word, kept) in [
            (i32::MIN, least),
            (least - 1, least),
            (least, least),
            (123_456, 123_456),
            (greatest, greatest),
            (greatest + 1, greatest),
            (i32::MAX, greatest),
        ] {
            let state = SmoothState::restored(&settings, integrator.word(), word);
            assert_eq!(state.filtered(), kept);
            assert_eq!(state.integrator(), integrator);
        }
    }
}
