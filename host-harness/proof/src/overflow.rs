//! The law run on intervals.

use super::interval::{Interval, Record};
use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrator, PiState, PidState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Multiply;

/// A signal.
pub type Signal = Interval<16, true>;
/// A gain.
pub type Gain = Interval<16, false>;
/// A sum.
pub type Sum = Interval<32, true>;
/// An integrator.
type Integral = Interval<32, false>;

/// Ranges of gains and limits.
#[derive(Clone, Copy, Debug)]
pub struct Ranges {
    /// Proportional gain.
    pub kp: Gain,
    /// Integral gain.
    pub ki: Gain,
    /// Derivative gain.
    pub kd: Gain,
    /// Lower limit.
    pub lo: Signal,
    /// Upper limit.
    pub hi: Signal,
}

/// Settings of such gains and limits.
pub fn settings<const SP: u32>(ranges: Ranges, action: Action) -> Settings<Signal, SP> {
    Settings::assumed(
        Mantissas {
            kp: ranges.kp,
            ki: ranges.ki,
            kd: ranges.kd,
        },
        ranges.lo,
        ranges.hi,
        action,
    )
}

/// Any integrator within the limits.
#[must_use]
pub fn integrator(ranges: Ranges) -> Integrator<Signal> {
    Integrator::assumed(Integral::new(
        ranges.lo.lo << 16,
        (ranges.hi.hi << 16) + 0xffff,
    ))
}

/// Any measurement, any set point, any state that satisfies its invariant: a step and what goes with it.
pub fn everything_pi<const SP: u32, M: Multiply<Signal>>(ranges: Ranges, action: Action) {
    let s = settings::<SP>(ranges, action);
    let start = PiState::with(integrator(ranges));
    let mut state = start;
    let _ = pi::step::<_, SP, M>(&s, &mut state, Signal::any(), Signal::any());
    let _ = pi::terms::<_, SP, M>(&s, &start, Signal::any(), Signal::any());
    let mut state = start;
    let weight = Weight::from_word(Signal::any());
    set_point_change::<_, SP, M>(&s, &mut state, Signal::any(), Signal::any(), weight);
    let _ = PiState::start(&s);
}

/// The same with a derivative.
pub fn everything_pid<const SP: u32, const K: u32, M: Multiply<Signal>>(
    ranges: Ranges,
    action: Action,
) {
    let s = settings::<SP>(ranges, action);
    let filtered = Sum::new(-(1_i128 << (14 + K)), (1 << (14 + K)) - 1);
    let start = PidState::<_, K>::assumed(integrator(ranges), filtered);
    let mut state = start;
    let _ = pid::step::<_, SP, K, M>(&s, &mut state, Signal::any(), Signal::any());
    let _ = pid::terms::<_, SP, K, M>(&s, &start, Signal::any(), Signal::any());
    let _ = PidState::<_, K>::start(&s, Signal::any());
}

/// Adds a run to a record.
pub fn merge(into: &mut Record, (record, _): (Record, usize)) {
    into.operations += record.operations;
    into.failures.extend(record.failures);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interval::record;
    use crate::property::{Halves, Whole};
    use crate::with_any_scale;

    /// The closed-form checks of the constructors are sufficient: at every scale, every `kp` with the greatest
    /// `kd` that goes with it, any `ki`, any limits.
    #[test]
    fn the_constructors_checks_suffice() {
        let mut runs = 0_u64;
        let mut operations = 0_u64;
        for scale in 1..=15 {
            let bound: u64 =
                with_any_scale!(scale, SP => Settings::<i16, SP>::gain_sum_max(), else 0);
            for kp in (0..=65_535_u64.min(bound))
                .step_by(97)
                .chain([bound.min(65_535)])
            {
                let kd = (bound - kp).min(65_535);
                let exactly = |value: u64| Gain::new(value.into(), value.into());
                let any = Signal::new(0, 32_767);
                let ranges = Ranges {
                    kp: exactly(kp),
                    ki: Gain::any(),
                    kd: exactly(kd),
                    lo: any,
                    hi: any,
                };
                for action in [Action::Direct, Action::Reverse] {
                    let mut all = Record::default();
                    with_any_scale!(scale, SP => {
                        merge(&mut all, record(|| everything_pi::<SP, Halves>(ranges, action)));
                        merge(&mut all, record(|| everything_pid::<SP, 3, Halves>(ranges, action)));
                        merge(&mut all, record(|| everything_pid::<SP, 3, Whole>(ranges, action)));
                    }, else ());
                    assert_eq!(
                        all.failures,
                        Vec::<String>::new(),
                        "scale {scale}, kp {kp}, kd {kd}"
                    );
                    runs += 1;
                    operations += all.operations;
                }
            }
        }
        assert_eq!(runs, 18_964);
        assert!(operations > 1_000_000, "{operations}");
    }
}
