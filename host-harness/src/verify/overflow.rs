//! Can anything overflow? The law run on intervals.

use super::interval::{Interval, Record, record};
use super::property::{Halves, Whole};
use crate::integers::{LawIntegers, with_filter, with_scale};
use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrator, PiState, PidState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Multiply;

pub(super) type Signal = Interval<16, true>;
pub(super) type Gain = Interval<16, false>;
pub(super) type Sum = Interval<32, true>;
type Integral = Interval<32, false>;

/// Ranges of gains and limits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ranges {
    pub(super) kp: Gain,
    pub(super) ki: Gain,
    pub(super) kd: Gain,
    pub(super) lo: Signal,
    pub(super) hi: Signal,
}

pub(super) fn settings<const SP: u32>(ranges: Ranges, action: Action) -> Settings<Signal, SP> {
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

pub(super) fn integrator(ranges: Ranges) -> Integrator<Signal> {
    Integrator::assumed(Integral::new(
        ranges.lo.lo << 16,
        (ranges.hi.hi << 16) + 0xffff,
    ))
}

/// Any measurement, any set point, any state that satisfies its invariant: a step and what goes with it.
fn everything_pi<const SP: u32, M: Multiply<Signal>>(ranges: Ranges, action: Action) {
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

fn everything_pid<const SP: u32, const K: u32, M: Multiply<Signal>>(
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

pub(super) fn merge(into: &mut Record, (record, _): (Record, usize)) {
    into.operations += record.operations;
    into.failures.extend(record.failures);
}

/// Runs the subject's law on intervals: every measurement, set point and reachable state at once, with both
/// kinds of comparison. What it records as failures could overflow; an empty list is a proof that nothing
/// can.
#[must_use]
pub fn intervals(subject: &LawIntegers) -> Record {
    let exactly = |value: u16| Gain::new(value.into(), value.into());
    let mut all = Record::default();
    if subject.lo < 0 || subject.lo >= subject.hi {
        all.failures
            .push(format!("output limits {}..{}", subject.lo, subject.hi));
        return all;
    }
    let limit = |value: i16| Signal::new(value.into(), value.into());
    let ranges = Ranges {
        kp: exactly(subject.kp),
        ki: exactly(subject.ki),
        kd: exactly(subject.kd),
        lo: limit(subject.lo),
        hi: limit(subject.hi),
    };
    let action = subject.action;
    with_scale!(subject.scale, SP => {
        merge(&mut all, record(|| everything_pi::<SP, Halves>(ranges, action)));
        merge(&mut all, record(|| everything_pi::<SP, Whole>(ranges, action)));
        if subject.has_derivative() {
            with_filter!(subject.filter_exponent, K => {
                merge(&mut all, record(|| everything_pid::<SP, K, Halves>(ranges, action)));
                merge(&mut all, record(|| everything_pid::<SP, K, Whole>(ranges, action)));
            }, else all.failures.push(format!("filter exponent {} is not covered", subject.filter_exponent)));
        }
    }, else all.failures.push(format!("scale {} is not covered", subject.scale)));
    all
}

/// Can any operation of this loop's law wrap or lose a bit, for any input and any reachable state?
#[must_use]
pub fn overflow_possible(subject: &LawIntegers) -> bool {
    !intervals(subject).failures.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn subject() -> LawIntegers {
        LawIntegers {
            kp: 1300,
            ki: 655,
            kd: 5000,
            scale: 8,
            filter_exponent: 3,
            lo: 6554,
            hi: 32767,
            action: Action::Direct,
        }
    }

    #[test]
    fn a_valid_loop_cannot_overflow() {
        let record = intervals(&subject());
        assert_eq!(record.failures, Vec::<String>::new());
        assert!(
            record.operations > 150,
            "{} operations checked",
            record.operations
        );
    }

    #[test]
    fn the_bound_of_the_gains_is_tight() {
        // 65281 = (2^31 - 2^23) / 32767, the greatest sum the constructor accepts at scale 8.
        for (kp, kd, possible) in [
            (65_000, 281, false),
            (65_000, 282, true),
            (60_000, 60_000, true),
        ] {
            let s = LawIntegers {
                kp,
                kd,
                hi: 32_767,
                ..subject()
            };
            assert_eq!(overflow_possible(&s), possible, "kp {kp}, kd {kd}");
            assert_eq!(s.settings::<8>().is_err(), possible, "kp {kp}, kd {kd}");
        }
    }

    /// The closed-form checks of the constructors are sufficient: at every scale, every `kp` with the greatest
    /// `kd` that goes with it, any `ki`, any limits.
    #[test]
    fn the_constructors_checks_suffice() {
        let mut runs = 0_u64;
        let mut operations = 0_u64;
        for scale in 1..=15 {
            let bound: u64 = with_scale!(scale, SP => Settings::<i16, SP>::gain_sum_max(), else 0);
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
                    with_scale!(scale, SP => {
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
