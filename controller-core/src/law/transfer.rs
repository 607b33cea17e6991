//! Changes while running: manual to automatic and back, gains, limits.
//!
//! Each moves the integrator once, exactly, and clamps it. The output makes no bump at all while the wanted
//! integrator fits its limits; otherwise it goes to the nearest attainable output.

use super::{Integrating, Integrator, Settings, Signals};
use crate::word::{Multiply, Narrow, Word};

/// Manual to automatic: the integrator that makes the law's next demand the duty that is on now,
/// `I = duty - kp*e - kd*g`, clamped, for the signals of the last sample. (Automatic to manual needs nothing: keep the last demand.)
///
/// ```
/// use controller_core::{gain::Mantissas, law::{pi, transfer, Action, PiState, Settings, Signals}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::start(&S);
/// let seen = Signals::of(Action::Direct, 40_i16 * 128, 41 * 128);
/// transfer::to_automatic::<_, 8, Native>(&S, &mut state, 12000, seen);
/// assert_eq!(pi::step::<_, 8, Native>(&S, &mut state, 40 * 128, 41 * 128), 12000);
/// ```
#[inline]
pub fn to_automatic<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Integrating<N>,
    duty: N,
    signals: Signals<N>,
) {
    let pd = M::multiply_widened(settings.kp, signals.error())
        .plus(M::multiply(settings.kd, signals.slope()));
    state.set_integrator(integrator_for::<N, SP, M>(settings, duty, pd));
}

/// `I = duty - pd`, clamped, for the other terms `pd` at the scale of `kp`.
#[inline(always)]
pub(crate) fn integrator_for<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    duty: N,
    pd: N::Wide,
) -> Integrator<N> {
    // kp + kd is bounded, so the sum fits, and its negative as well.
    let share = N::Wide::literal(0).minus(pd);
    Integrator::exactly(settings, duty).absorbing::<SP, M>(settings, share)
}

/// `(a - b) * signal`, the difference of two gains taken first so that nothing overflows.
#[inline]
fn difference<N: Narrow, M: Multiply<N>>(a: N::Unsigned, b: N::Unsigned, signal: N) -> N::Wide {
    if a.below(b) {
        N::Wide::literal(0).minus(M::multiply(b.minus(a), signal))
    } else {
        M::multiply(a.minus(b), signal)
    }
}

/// Change of gains or limits from `old` to `new`: the integrator takes the old P and D minus the new, clamped
/// to the new limits. `signals` are those of the last sample.
///
/// The action must stay the same: turning a cooling loop into a heating one is a restart, not a change of
/// gains.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{pi, transfer, Action, Integrator, PiState, Settings, Signals}, word::Native};
/// const SOFT: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 650, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// const HARD: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::with(Integrator::exactly(&SOFT, 16000));
/// let before = pi::step::<_, 8, Native>(&SOFT, &mut state, 40 * 128, 42 * 128);
/// let seen = Signals::of(Action::Direct, 40_i16 * 128, 42 * 128);
/// transfer::to_gains::<_, 8, Native>(&SOFT, &HARD, &mut state, seen);
/// assert_eq!(pi::step::<_, 8, Native>(&HARD, &mut state, 40 * 128, 42 * 128), before);
/// ```
#[inline]
pub fn to_gains<N: Narrow, const SP: u32, M: Multiply<N>>(
    old: &Settings<N, SP>,
    new: &Settings<N, SP>,
    state: &mut impl Integrating<N>,
    signals: Signals<N>,
) {
    debug_assert!(old.action == new.action);
    // Either may be as large as the word; a sum beyond it carries I to its limit in any case.
    let share = difference::<N, M>(old.kp, new.kp, signals.narrow_error())
        .saturating_plus(difference::<N, M>(old.kd, new.kd, signals.slope()));
    state.set_integrator(state.integrator().absorbing::<SP, M>(new, share));
}

/// Change of limits alone: the integrator is confined to the new ones. Keeps order.
#[inline]
pub fn to_limits<N: Narrow, const SP: u32>(new: &Settings<N, SP>, state: &mut impl Integrating<N>) {
    state.set_integrator(Integrator::from_word(new, state.integrator().word()));
}

/// Change of feed-forward, in output LSB: the integrator takes the difference, exactly.
#[inline]
pub fn feed_forward<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Integrating<N>,
    old: N,
    new: N,
) {
    // A difference of two words has n + 1 bits and SP is below n, so the shift is exact.
    let share = new.widen().minus(old.widen()).shift_left(SP);
    state.set_integrator(state.integrator().absorbing::<SP, M>(settings, share));
}
