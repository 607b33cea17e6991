//! Laws in which one product serves two terms, for machines without a multiplier.
//!
//! With `ki = kp` as raw integers, P and the integrator can share the product `kp*e`, because their scales differ
//! by a power of two: the integral time is then exactly `2^(n - SP)` sample periods (256 at 16/32 with `SP` 8).
//! Choose the period so that this is the integral time wanted; with it comes about a third off the cost.
//!
//! In series form the derivative joins in: `kp*(e + 2^L*g)` serves all three terms, `(1 + 1/(Ti s))(1 + Td s)`
//! with `Td = 2^L` times `2^K` sample periods.

use super::{Integrating, PiState, PidState, Settings, output};
use crate::setpoint::InDomain;
use crate::word::{Accumulator, Multiply, Narrow, Wide, Word};

/// One sample of a PI law with the integral time `2^(n-SP)` periods: the same as [`super::pi::step`] with
/// `ki = kp`, with one product. `ki` of the settings is not used.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{one_product, pi, Action, PiState, Settings}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 1300, kd: 0 }, 0, 32767, Action::Reverse);
/// let (mut one, mut two) = (PiState::start(&S), PiState::start(&S));
/// for m in [3000, 3100, 3300, 3700] {
///     let demand = one_product::pi_step::<_, 8, Native>(&S, &mut one, 3500, m);
///     assert_eq!(demand, pi::step::<_, 8, Native>(&S, &mut two, 3500, m));
/// }
/// assert_eq!(one, two);
/// ```
#[inline(always)]
pub fn pi_step<N: Narrow, const SP: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut PiState<N>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    let error = super::pi::error(settings.action, set_point, measurement);
    let product = M::multiply_widened(settings.kp, error);
    let sum = product.plus(state.integrator().word.descale(N::BITS - SP));
    let demand = output::demand::<N, SP, M>(settings, sum);
    state.set_integrator(state.integrator().advanced::<SP, M>(settings, product));
    demand
}

/// One sample of a series PID law with one product: `x = kp*(e + 2^L*g)`, the output from `x + I`, the integrator
/// moved by `x`. `ki` and `kd` of the settings are not used. The lead `e + 2^L*g` is limited to
/// `±(2^(n-1) - 1)`; within that nothing is lost.
///
/// The integrator moves by the derivative as well, as the series form has it; what a change of the measurement
/// puts in, its end takes out. `L` is below `2n`; from `n` on any slope alone fills the lead.
///
/// ```compile_fail,E0080
/// # use controller_core::{gain::Mantissas, law::{one_product, Action, Integrator, PidState, Settings}, word::Native};
/// # const S: Settings<i16, 8> =
/// #     Settings::<i16, 8>::constant(Mantissas { kp: 256, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PidState::<_, 3>::with(Integrator::exactly(&S, 10000), 1000);
/// let _ = one_product::series_step::<_, 8, 3, 32, Native>(&S, &mut state, 910, 1010); // 2^32
/// ```
///
/// ```
/// use controller_core::{gain::Mantissas, law::{one_product, Action, Integrator, PidState, Settings}, word::Native};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 256, ki: 0, kd: 0 }, 0, 32767, Action::Direct);
/// let mut state = PidState::<_, 3>::with(Integrator::exactly(&S, 10000), 1000);
/// // e = 100 counts, g = 10 counts: 100 + 4 * 10.
/// assert_eq!(one_product::series_step::<_, 8, 3, 2, Native>(&S, &mut state, 910, 1010), 10140);
/// ```
#[inline(always)]
pub fn series_step<N: Narrow, const SP: u32, const K: u32, const L: u32, M: Multiply<N>>(
    settings: &Settings<N, SP>,
    state: &mut PidState<N, K>,
    set_point: impl InDomain<N>,
    measurement: N,
) -> N {
    const { assert!(L < 2 * N::BITS, "L must be below the bits of the wide word") };
    let (error, slope) =
        super::pid::signals_of::<N, K>(settings.action, state, set_point, measurement);
    let one = N::Wide::literal((1 << (N::BITS - 1)) - 1);
    let least = N::Wide::literal(0).minus(one);
    let lead = match slope.widen().upscale(L) {
        Some(lead) => error.saturating_plus(lead).clamp(least, one),
        None if slope.below(N::literal(0)) => least,
        None => one,
    };
    let product = M::multiply_widened(settings.kp, lead);
    let sum = product.plus(state.integrator().word.descale(N::BITS - SP));
    let demand = output::demand::<N, SP, M>(settings, sum);
    state.set_integrator(state.integrator().advanced::<SP, M>(settings, product));
    demand
}

/// The integral time of these forms in sample periods, `2^(n-SP)`.
#[must_use]
pub const fn integral_time_periods(bits: u32, sp: u32) -> u64 {
    1 << (bits - sp)
}
