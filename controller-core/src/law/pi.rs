//! Proportional and integral action.

use super::{Action, Integrating, Integrator, Settings, Terms, output};
use crate::setpoint::InDomain;
use crate::word::{Accumulator, Multiply, Narrow, Unsigned, Word, into_domain};

/// The state of a PI law: its integrator. 4 bytes at 16/32.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PiState<N: Narrow> {
    integrator: Integrator<N>,
}

impl<N: Narrow> PiState<N> {
    /// The state to start from: a cooling loop at full integrator (`hi`), a heating loop at none
    /// (`lo`), so that either errs to the safe side until it has measured. Without integral action
    /// (`ki = 0`) nothing could ever unwind a full integrator, so such a cooling loop starts at `lo`
    /// too: its demand is `lo + kp*e`.
    ///
    /// ```
    /// use controller_core::{gain::Mantissas, law::{Action, Integrating, PiState, Settings}};
    /// const COOL: Settings<i16, 8> =
    ///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 0 }, 6554, 32767, Action::Direct);
    /// assert_eq!(PiState::start(&COOL).integrator().rounded(), 32767);
    /// ```
    #[must_use]
    #[inline]
    pub fn start<const SP: u32>(settings: &Settings<N, SP>) -> Self {
        let duty = match settings.action {
            Action::Direct if settings.ki != N::Unsigned::literal(0) => settings.hi,
            Action::Direct | Action::Reverse => settings.lo,
        };
        Self::with(Integrator::exactly(settings, duty))
    }

    /// A state with this integrator.
    #[must_use]
    #[inline]
    pub fn with(integrator: Integrator<N>) -> Self {
        Self { integrator }
    }
}

impl<N: Narrow> Integrating<N> for PiState<N> {
    #[inline(always)]
    fn integrator(&self) -> Integrator<N> {
        self.integrator
    }
    #[inline(always)]
    fn set_integrator(&mut self, integrator: Integrator<N>) {
        self.integrator = integrator;
    }
}

/// The error, positive when more output is wanted. Both signals are clamped to the law's domain first,
/// so that `|e| <= 2^(n-1) - 1`. Held in a wide word, which costs nothing and saves sign extensions.
#[must_use]
#[inline(always)]
pub fn error<N: Narrow>(action: Action, set_point: impl InDomain<N>, measurement: N) -> N::Wide {
    let set_point = set_point.in_domain().widen();
    let measurement = into_domain(measurement).widen();
    match action {
        Action::Direct => measurement.minus(set_point),
        Action::Reverse => set_point.minus(measurement),
    }
}

/// `kp*e + I` at the scale of P, `SP` fraction bits, with the rounding half.
#[inline(always)]
pub(super) fn sum<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    integrator: Integrator<N>,
    error: N::Wide,
) -> N::Wide {
    M::multiply_widened(settings.kp, error).plus(integrator.word.descale(N::BITS - SP))
}

/// One sample of the PI law: the demand now, and the integrator moved on for the next sample.
///
/// `set_point` (a plain word or a [`crate::setpoint::SetPoint`]) and `measurement` are temperatures in
/// counts (`FixedI16<U7>` bits at 16/32: 1/128 degC),
/// each clamped to `-2^(n-2)..=2^(n-2)-1`. The demand is a duty word in the settings' `lo..=hi`, within
/// half an LSB of the exact law (see [`crate::law`]). Never fails, never panics.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{pi, Action, PiState, Settings}, word::Native};
/// const RACK: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::start(&RACK);
/// let demand = pi::step::<_, 8, Native>(&RACK, &mut state, 40 * 128, 35 * 128);
/// assert_eq!(demand, 32767 - 3250); // P takes 5 K * kp = 640 * 1300 / 256 off the full integrator
/// ```
#[inline(always)]
pub fn step<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut PiState<N>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let error = error(settings.action, set_point, measurement);
    let demand =
        output::demand::<N, SP, M>(settings, sum::<N, SP, M>(settings, state.integrator, error));
    state.integrator = state
        .integrator
        .advanced::<SP, M>(settings, M::multiply_widened(settings.ki, error));
    demand
}

/// The terms that [`step`] would form from this state, without changing it.
#[must_use]
#[inline]
pub fn terms<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &PiState<N>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> Terms<N> {
    let error = error(settings.action, set_point, measurement);
    let sum = sum::<N, SP, M>(settings, state.integrator, error);
    Terms {
        p: M::multiply_widened(settings.kp, error).shift_right(SP),
        i: state.integrator.rounded().widen(),
        d: N::Wide::literal(0),
        unclamped: sum.shift_right(SP),
        demand: output::demand::<N, SP, M>(settings, sum),
    }
}
