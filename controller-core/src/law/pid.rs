//! Proportional, integral and derivative action, the derivative of the measurement through a
//! first-order filter of `2^K` samples.

use super::windup::Sample;
use super::{Action, Integrating, Integrator, PiState, Settings, Signals, Terms, output};
use crate::setpoint::InDomain;
use crate::word::{
    Accumulator, Multiply, Narrow, Unsigned, Wide, Word, domain_max, domain_min, into_domain,
};

/// The state of a PID law: its integrator and the measurement filtered over `2^K` samples. 8 bytes at 16/32.
///
/// `K` belongs to the type, for the words of one filter mean something else to another:
///
/// ```compile_fail,E0308
/// use controller_core::{gain::Mantissas, law::{pid, Action, PidState, Settings}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 5000 }, 0, 32767, Action::Direct);
/// let mut state = PidState::<i16, 8>::start(&S, 40 * 128);
/// let demand = pid::step::<_, 8, 3, Native>(&S, &mut state, 40 * 128, 40 * 128); // another filter
/// ```
///
/// and the filtered measurement must fit its word, `K <= n + 1` (17 at 16/32):
///
/// ```compile_fail,E0080
/// # use controller_core::{gain::Mantissas, law::{Action, PidState, Settings}};
/// # const S: Settings<i16, 8> =
/// #     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 5000 }, 0, 32767, Action::Direct);
/// let state = PidState::<i16, 18>::start(&S, 40 * 128);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PidState<N: Narrow, const K: u32> {
    integrator: Integrator<N>,
    /// The filtered measurement with `K` fraction bits: the residue is kept, so a constant measurement
    /// is reached exactly. Invariant: `-2^(n-2) <= filtered / 2^K < 2^(n-2)`.
    filtered: N::Wide,
}

impl<N: Narrow, const K: u32> PidState<N, K> {
    const HAS_ROOM: () = assert!(
        K <= N::BITS + 1,
        "the filtered measurement does not fit its word: K must not be above n + 1"
    );

    /// The state to start from, seeded with the first measurement so that the derivative begins at
    /// zero. The integrator starts as for PI: cooling at full, heating at none.
    ///
    /// ```
    /// use controller_core::{gain::Mantissas, law::{pid, Action, PidState, Settings}, word::Native};
    /// const S: Settings<i16, 8> =
    ///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 5000 }, 0, 32767, Action::Direct);
    /// let state = PidState::<_, 3>::start(&S, 40 * 128);
    /// assert_eq!(pid::terms::<_, 8, 3, Native>(&S, &state, 40 * 128, 40 * 128).d, 0);
    /// ```
    #[must_use]
    #[inline]
    pub fn start<const SP: u32>(settings: &Settings<N, SP>, first_measurement: N) -> Self {
        Self::with(PiState::start(settings).integrator(), first_measurement)
    }

    /// A state with this integrator, its filter seeded with this measurement.
    #[must_use]
    #[inline]
    pub fn with(integrator: Integrator<N>, measurement: N) -> Self {
        let () = Self::HAS_ROOM;
        Self {
            integrator,
            filtered: into_domain(measurement).widen().shift_left(K),
        }
    }

    /// A state from the words of an earlier one ([`Integrator::word`], [`PidState::filtered`]), each
    /// limited to its invariant: for a warm restart.
    #[must_use]
    #[inline]
    pub fn restored<const SP: u32>(
        settings: &Settings<N, SP>,
        integrator: N::Accumulator,
        filtered: N::Wide,
    ) -> Self {
        let () = Self::HAS_ROOM;
        let least = domain_min::<N>().widen().shift_left(K);
        let greatest = domain_max::<N>()
            .widen()
            .shift_left(K)
            .plus(N::Wide::literal((1 << K) - 1));
        Self {
            integrator: Integrator::from_word(settings, integrator),
            filtered: filtered.clamp(least, greatest),
        }
    }

    /// Seeds the filter anew, after a fault or a gap in the samples; the integrator stays.
    #[inline]
    pub fn reseed(&mut self, measurement: N) {
        *self = Self::with(self.integrator, measurement);
    }

    /// The filtered measurement with `K` fraction bits.
    #[must_use]
    #[inline]
    pub fn filtered(&self) -> N::Wide {
        self.filtered
    }

    /// Error and slope that the next sample will see, the filter not moved: for [`super::transfer`].
    #[must_use]
    #[inline]
    pub fn signals(
        &self,
        action: Action,
        set_point: impl InDomain<N>,
        measurement: N,
    ) -> Signals<N> {
        let smooth = self.filtered.shift_right(K).narrow();
        Signals::from_filtered(action, set_point, measurement, smooth)
    }

    /// For proofs only: any filter word at all.
    #[must_use]
    pub fn assumed(integrator: Integrator<N>, filtered: N::Wide) -> Self
    where
        N: crate::word::Model,
    {
        let () = Self::HAS_ROOM;
        Self {
            integrator,
            filtered,
        }
    }
}

impl<N: Narrow, const K: u32> Integrating<N> for PidState<N, K> {
    #[inline(always)]
    fn integrator(&self) -> Integrator<N> {
        self.integrator
    }
    #[inline(always)]
    fn set_integrator(&mut self, integrator: Integrator<N>) {
        self.integrator = integrator;
    }
}

/// Error and slope of one sample, and the filter moved on. Both signals lie in the domain.
#[inline(always)]
fn signals<N: Narrow, const K: u32>(
    action: Action,
    filtered: N::Wide,
    set_point: impl InDomain<N>,
    measurement: N,
) -> (N::Wide, N, N::Wide) {
    let set_point = set_point.in_domain().widen();
    let measurement = into_domain(measurement);
    let smooth: N = filtered.shift_right(K).narrow();
    match action {
        Action::Direct => {
            let slope = measurement.minus(smooth);
            (
                measurement.widen().minus(set_point),
                slope,
                filtered.plus(slope.widen()),
            )
        }
        Action::Reverse => {
            let slope = smooth.minus(measurement);
            (
                set_point.minus(measurement.widen()),
                slope,
                filtered.minus(slope.widen()),
            )
        }
    }
}

/// Error and slope of one sample, the filter moved on: for laws that combine them otherwise.
#[inline(always)]
pub(super) fn signals_of<N: Narrow, const K: u32>(
    action: Action,
    state: &mut PidState<N, K>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> (N::Wide, N) {
    let (error, slope, filtered) = signals::<N, K>(action, state.filtered, set_point, measurement);
    state.filtered = filtered;
    (error, slope)
}

/// The sum of the terms and the increment of one sample, the filter moved on, the integrator not.
#[inline]
pub(super) fn sample<N: Narrow, const SP: u32, const K: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut PidState<N, K>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> Sample<N> {
    let (error, slope) = signals_of::<N, K>(settings.action, state, set_point, measurement);
    let sum = proportional_derivative::<N, SP, M>(settings, error, slope)
        .plus(state.integrator.word.descale(N::BITS - SP));
    Sample {
        sum,
        increment: M::multiply_widened(settings.ki, error),
    }
}

/// `kp*e + kd*g` at the scale of P.
#[inline(always)]
fn proportional_derivative<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    error: N::Wide,
    slope: N,
) -> N::Wide {
    M::multiply_widened(settings.kp, error).plus(M::multiply(settings.kd, slope))
}

/// One sample of the PID law: the demand now, the integrator and the filter moved on.
///
/// Units and guarantees as for [`crate::law::pi::step`]. The derivative acts on the measurement only,
/// so a set-point change makes no kick through it. `K` sets the filter: a time constant of
/// `(2^K - 1)` sample periods; `kd` multiplies `measurement - filtered`, which is `2^K` times the
/// change a sample once the filter has settled on a ramp.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{pid, Action, PidState, Settings}, word::Native};
/// const RACK: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 5000 }, 0, 32767, Action::Direct);
/// let mut state = PidState::<_, 3>::start(&RACK, 30 * 128);
/// // 1 K in one sample: P takes 9 K * kp off the full integrator, D adds 1 K * kd.
/// let demand = pid::step::<_, 8, 3, Native>(&RACK, &mut state, 40 * 128, 31 * 128);
/// assert_eq!(demand, 32767 - (5850 - 2500));
/// ```
#[inline(always)]
pub fn step<N: Narrow, const SP: u32, const K: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut PidState<N, K>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let (error, slope, filtered) =
        signals::<N, K>(settings.action, state.filtered, set_point, measurement);
    state.filtered = filtered;
    let sum = proportional_derivative::<N, SP, M>(settings, error, slope)
        .plus(state.integrator.word.descale(N::BITS - SP));
    let demand = output::demand::<N, SP, M>(settings, sum);
    state.integrator = state
        .integrator
        .advanced::<SP, M>(settings, M::multiply_widened(settings.ki, error));
    demand
}

/// The terms that [`step`] would form from this state, without changing it.
#[must_use]
#[inline]
pub fn terms<N: Narrow, const SP: u32, const K: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &PidState<N, K>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> Terms<N> {
    let (error, slope, _) =
        signals::<N, K>(settings.action, state.filtered, set_point, measurement);
    let sum = proportional_derivative::<N, SP, M>(settings, error, slope)
        .plus(state.integrator.word.descale(N::BITS - SP));
    Terms {
        p: M::multiply_widened(settings.kp, error).shift_right(SP),
        i: state.integrator.rounded().widen(),
        d: M::multiply(settings.kd, slope).shift_right(SP),
        unclamped: sum.shift_right(SP),
        demand: output::demand::<N, SP, M>(settings, sum),
    }
}
