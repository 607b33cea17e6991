//! The laws a station can run, behind one trait.

use crate::law::{
    Action, Integrating, Integrator, PiState, PidState, Settings, Terms, pi, pid, transfer,
};
use crate::setpoint::{SetPoint, Weight, set_point_change};
use crate::word::{Multiply, Narrow, Native, Wide, Word};
use core::marker::PhantomData;

/// A law at 16/32 with `SP` fraction bits in `kp` and `kd`. Implemented by [`Pi`] and [`Pid`].
pub trait Law<const SP: u32> {
    /// What it keeps between samples.
    type State: Copy + Integrating<i16>;
    /// The target's multiply.
    type Multiply: Multiply<i16>;

    /// The state to start from, seeded with the first measurement.
    fn start(settings: &Settings<i16, SP>, measurement: i16) -> Self::State;
    /// One sample: the demand, a duty word.
    fn step(
        settings: &Settings<i16, SP>,
        state: &mut Self::State,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> i16;
    /// The terms that the next step would form, for telemetry.
    fn terms(
        settings: &Settings<i16, SP>,
        state: &Self::State,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> Terms<i16>;
    /// Seeds the derivative anew after a gap in the samples; the integrator stays.
    fn reseed(state: &mut Self::State, measurement: i16);
    /// Sets the integrator so that the next step's demand is `duty`, or the nearest attainable:
    /// `I = duty - kp * e`, clamped; the derivative begins anew.
    fn take_over(
        settings: &Settings<i16, SP>,
        state: &mut Self::State,
        set_point: SetPoint<i16>,
        measurement: i16,
        duty: i16,
    );
    /// Absorbs a change of the set point.
    #[inline]
    fn change_set_point(
        settings: &Settings<i16, SP>,
        state: &mut Self::State,
        old: SetPoint<i16>,
        new: SetPoint<i16>,
        weight: Weight<i16>,
    ) {
        set_point_change::<i16, SP, Self::Multiply>(settings, state, old, new, weight);
    }
    /// Absorbs the change from `settings` to [`halved`] of them, so that the demand does not move.
    fn absorb_halving(
        settings: &Settings<i16, SP>,
        state: &mut Self::State,
        set_point: SetPoint<i16>,
        measurement: i16,
    );
}

/// Settings with every gain halved, rounded up so that none becomes 0. The bound on `kp + kd` that
/// holds for the full gains holds for these.
///
/// ```
/// use controller_core::{gain::Mantissas, law::{Action, Settings}, station::halved};
/// const S: Settings<i16, 8> =
///     Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 65, kd: 0 }, 0, 32767, Action::Direct);
/// assert_eq!(halved(&S).mantissas(), Mantissas { kp: 650, ki: 33, kd: 0 });
/// ```
#[must_use]
#[inline]
pub const fn halved<const SP: u32>(settings: &Settings<i16, SP>) -> Settings<i16, SP> {
    Settings {
        kp: half(settings.kp),
        ki: half(settings.ki),
        kd: half(settings.kd),
        lo: settings.lo,
        hi: settings.hi,
        action: settings.action,
    }
}

/// Half, rounded up, without a wrap at the greatest word.
#[inline]
const fn half(gain: u16) -> u16 {
    (gain >> 1).wrapping_add(gain & 1)
}

/// Proportional and integral action, with the target's multiply `M`. State: 4 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pi<M = Native>(PhantomData<M>);

/// Proportional, integral and derivative action with a filter of `2^K` samples, and the target's
/// multiply `M`. State: 8 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pid<const K: u32, M = Native>(PhantomData<M>);

/// `I = duty - kp * e`, clamped.
#[inline]
fn integrator_for<const SP: u32, M: Multiply<i16>>(
    settings: &Settings<i16, SP>,
    set_point: SetPoint<i16>,
    measurement: i16,
    duty: i16,
) -> Integrator<i16> {
    let error = pi::error(settings.action, set_point, measurement);
    let p = M::multiply_widened(settings.kp, error);
    transfer::integrator_for::<i16, SP, M>(settings, duty, p)
}

impl<const SP: u32, M: Multiply<i16>> Law<SP> for Pi<M> {
    type State = PiState<i16>;
    type Multiply = M;

    #[inline]
    fn start(settings: &Settings<i16, SP>, _measurement: i16) -> PiState<i16> {
        PiState::start(settings)
    }

    #[inline]
    fn step(
        settings: &Settings<i16, SP>,
        state: &mut PiState<i16>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> i16 {
        pi::step::<i16, SP, M>(settings, state, set_point, measurement)
    }

    #[inline]
    fn terms(
        settings: &Settings<i16, SP>,
        state: &PiState<i16>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> Terms<i16> {
        pi::terms::<i16, SP, M>(settings, state, set_point, measurement)
    }

    #[inline]
    fn reseed(_state: &mut PiState<i16>, _measurement: i16) {}

    #[inline]
    fn take_over(
        settings: &Settings<i16, SP>,
        state: &mut PiState<i16>,
        set_point: SetPoint<i16>,
        measurement: i16,
        duty: i16,
    ) {
        state.set_integrator(integrator_for::<SP, M>(
            settings,
            set_point,
            measurement,
            duty,
        ));
    }

    #[inline]
    fn absorb_halving(
        settings: &Settings<i16, SP>,
        state: &mut PiState<i16>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) {
        let error = pi::error(settings.action, set_point, measurement);
        let share = M::multiply_widened(settings.kp >> 1, error);
        state.set_integrator(state.integrator().absorbing::<SP, M>(settings, share));
    }
}

impl<const SP: u32, const K: u32, M: Multiply<i16>> Law<SP> for Pid<K, M> {
    type State = PidState<i16, K>;
    type Multiply = M;

    #[inline]
    fn start(settings: &Settings<i16, SP>, measurement: i16) -> PidState<i16, K> {
        PidState::<_, K>::start(settings, measurement)
    }

    #[inline]
    fn step(
        settings: &Settings<i16, SP>,
        state: &mut PidState<i16, K>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> i16 {
        pid::step::<i16, SP, K, M>(settings, state, set_point, measurement)
    }

    #[inline]
    fn terms(
        settings: &Settings<i16, SP>,
        state: &PidState<i16, K>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) -> Terms<i16> {
        pid::terms::<i16, SP, K, M>(settings, state, set_point, measurement)
    }

    #[inline]
    fn reseed(state: &mut PidState<i16, K>, measurement: i16) {
        state.reseed(measurement);
    }

    #[inline]
    fn take_over(
        settings: &Settings<i16, SP>,
        state: &mut PidState<i16, K>,
        set_point: SetPoint<i16>,
        measurement: i16,
        duty: i16,
    ) {
        let integrator = integrator_for::<SP, M>(settings, set_point, measurement, duty);
        *state = PidState::<_, K>::with(integrator, measurement);
    }

    #[inline]
    fn absorb_halving(
        settings: &Settings<i16, SP>,
        state: &mut PidState<i16, K>,
        set_point: SetPoint<i16>,
        measurement: i16,
    ) {
        let error = pi::error(settings.action, set_point, measurement);
        let smooth: i16 = state.filtered().shift_right(K).narrow();
        let slope = crate::word::into_domain(measurement).minus(smooth);
        let slope = match settings.action {
            Action::Direct => slope,
            Action::Reverse => slope.wrapping_neg(),
        };
        // The sum of the halves is bounded as the law's own sum is.
        let share =
            M::multiply_widened(settings.kp >> 1, error).plus(M::multiply(settings.kd >> 1, slope));
        state.set_integrator(state.integrator().absorbing::<SP, M>(settings, share));
    }
}

/// The error word of one sample: positive when more output is wanted.
#[inline]
pub(super) fn error<const SP: u32>(
    settings: &Settings<i16, SP>,
    set_point: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    let error: <i16 as Narrow>::Wide = pi::error(settings.action, set_point, measurement);
    error.narrow()
}

#[cfg(test)]
mod tests {
    use super::{Law, Pid};
    use crate::gain::Mantissas;
    use crate::law::{Action, PidState, Settings};
    use crate::setpoint::SetPoint;

    /// With the derivative begun anew: none at the measurement taken over at.
    #[test]
    fn a_pid_takes_a_duty_over() {
        let gains = Mantissas {
            kp: 2_000,
            ki: 600,
            kd: 777,
        };
        let set_point = SetPoint::<i16>::constant(40 * 128);
        let mut cases = 0;
        for action in [Action::Direct, Action::Reverse] {
            let settings = Settings::<i16, 8>::constant(gains, 2_000, 30_000, action);
            for measurement in 4_900..5_300 {
                for duty in [10_000, 16_000, 20_000] {
                    let mut state = PidState::<_, 3>::start(&settings, 3_000);
                    <Pid<3> as Law<8>>::take_over(
                        &settings,
                        &mut state,
                        set_point,
                        measurement,
                        duty,
                    );
                    let terms =
                        <Pid<3> as Law<8>>::terms(&settings, &state, set_point, measurement);
                    assert_eq!(terms.demand, duty, "{measurement}");
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 2 * 400 * 3);
    }
}
