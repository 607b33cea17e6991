//! Can anything overflow? The law run on intervals.

use crate::integers::{LawIntegers, with_filter, with_scale};
use hushloop_proof::interval::{Record, record};
use hushloop_proof::overflow::{Gain, Ranges, Signal, everything_pi, everything_pid, merge};
use hushloop_proof::property::{Halves, Whole};

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
    use controller_core::law::Action;

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
}
