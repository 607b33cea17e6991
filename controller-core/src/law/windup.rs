//! Other anti-windup than the static clamp: conditional integration, and tracking.
//!
//! Both equal the static law while the output is inside its limits. Neither keeps order: a hotter history may
//! then yield less cooling for a while. The static clamp, which does keep order, recovers a little later from
//! long saturation; that is the trade.

use super::{Integrating, PiState, PidState, Settings, output, pi, pid};
use crate::setpoint::InDomain;
use crate::word::{Multiply, Narrow, Wide, Word};

/// What a sample of a law consists of before the integrator moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample<N: Narrow> {
    /// The sum of the terms at the scale of P, with the rounding half.
    pub sum: N::Wide,
    /// `ki*e` at the integrator's scale.
    pub increment: N::Wide,
}

/// A state that can form a sample.
pub trait Sampling<N: Narrow, const SP: u32>: Integrating<N> {
    /// Forms the sample, moving everything but the integrator.
    fn sample<M: Multiply<N>>(
        &mut self,
        settings: &Settings<N, SP>,
        set_point: impl InDomain<N>,
        measurement: N,
    ) -> Sample<N>;
}

impl<N: Narrow, const SP: u32> Sampling<N, SP> for PiState<N> {
    #[inline]
    fn sample<M: Multiply<N>>(
        &mut self,
        settings: &Settings<N, SP>,
        set_point: impl InDomain<N>,
        measurement: N,
    ) -> Sample<N> {
        let error = pi::error(settings.action, set_point, measurement);
        Sample {
            sum: pi::sum::<N, SP, M>(settings, self.integrator(), error),
            increment: M::multiply_widened(settings.ki, error),
        }
    }
}

impl<N: Narrow, const SP: u32, const K: u32> Sampling<N, SP> for PidState<N, K> {
    #[inline]
    fn sample<M: Multiply<N>>(
        &mut self,
        settings: &Settings<N, SP>,
        set_point: impl InDomain<N>,
        measurement: N,
    ) -> Sample<N> {
        pid::sample::<N, SP, K, M>(settings, self, set_point, measurement)
    }
}

/// One sample with conditional integration: the integrator stands still while the unrounded sum is outside what
/// rounds into `lo..=hi` (where the integrator itself is confined to) and `ki*e` pushes it further out.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{windup, Action, Integrating, Integrator, PiState, Settings}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 655, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::with(Integrator::exactly(&S, 20000));
/// // 60 K too hot: P alone fills the output, so nothing is integrated.
/// assert_eq!(windup::conditional::<_, 8, Native>(&S, &mut state, 0, 60 * 128), 32767);
/// assert_eq!(state.integrator().rounded(), 20000);
/// ```
#[inline]
pub fn conditional<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Sampling<N, SP>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let sample = state.sample::<M>(settings, set_point, measurement);
    let unlimited = sample.sum.shift_right(SP);
    let zero = N::Wide::literal(0);
    let above = settings.hi.widen().below(unlimited) && zero.below(sample.increment);
    let below = unlimited.below(settings.lo.widen()) && sample.increment.below(zero);
    if !above && !below {
        state.set_integrator(
            state
                .integrator()
                .advanced::<SP, M>(settings, sample.increment),
        );
    }
    output::demand::<N, SP, M>(settings, sample.sum)
}

/// One sample with tracking: `I' = clamp(I + ki*e + kt*(clamp(S) - S))`, the excess measured before rounding.
///
/// `S` is the unrounded sum of the terms at the scale of P, and `clamp(S)` the nearest sum that rounds to
/// `applied`: so nothing is taken back while the demand goes out as it is and lies inside its limits, and the law
/// is the static one. `applied` is the duty that really goes out, given the law's demand: the demand itself for
/// plain back-calculation, or what a slew limit, a fan's floor or an operator made of it (a negative one counts as
/// none). `gain` is `kt`, the share of the excess that is taken back a sample, scaled `2^n`: `h/Tt` for a tracking
/// time `Tt` and a period `h`, `2^(n-t)` for a shift by `t`. The excess is limited to full duty either way.
///
/// Source: back-calculation as in Astrom and Murray, Feedback Systems, 2008, section 10.5.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{windup, Action, Integrating, Integrator, PiState, Settings}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 0, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PiState::with(Integrator::exactly(&S, 0));
/// // An operator holds 12000: the integrator covers half of the gap.
/// windup::tracking::<_, 8, Native>(&S, &mut state, 0, 0, 32768, |_| 12000);
/// assert_eq!(state.integrator().rounded(), 6000);
/// ```
#[inline]
pub fn tracking<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut impl Sampling<N, SP>,
    set_point: impl InDomain<N>,
    measurement: N,
    gain: N::Unsigned,
    applied: impl FnOnce(N) -> N,
) -> N {
    let sample = state.sample::<M>(settings, set_point, measurement);
    let demand = output::demand::<N, SP, M>(settings, sample.sum);
    let applied = applied(demand);
    let share = share_of_excess::<N, SP, M>(sample.sum, applied, gain);
    // Either may be as large as the word; a sum beyond it carries I to its limit in any case.
    let step = sample.increment.saturating_plus(share);
    state.set_integrator(state.integrator().advanced::<SP, M>(settings, step));
    applied
}

/// `floor(gain * (clamp(sum) - sum))` at the integrator's scale.
#[inline]
fn share_of_excess<N: Narrow, const SP: u32, M: Multiply<N>>(
    sum: N::Wide,
    applied: N,
    gain: N::Unsigned,
) -> N::Wide {
    let one = N::literal((1 << (N::BITS - 1)) - 1);
    let applied = applied.clamp(N::literal(0), one);
    let least = applied.widen().shift_left(SP);
    let greatest = least.plus(N::Wide::literal((1 << SP) - 1));
    let full = one.widen().shift_left(SP);
    let excess = sum
        .clamp(least, greatest)
        // The bound on kp + kd leaves exactly the room that the greatest applied duty needs.
        .minus(sum)
        .clamp(N::Wide::literal(0).minus(full), full);
    // In two parts, whole LSB and fraction: their products fit the word where the whole one would not.
    let whole = excess.shift_right(SP);
    let fraction = excess.minus(whole.shift_left(SP));
    M::multiply(gain, whole.narrow()).plus(M::multiply(gain, fraction.narrow()).shift_right(SP))
}
