use super::{EffectConfig, EffectGuard};
use crate::duty::Duty;
use crate::guard::GuardError;
use core::mem::size_of;

const CONFIG: EffectConfig = EffectConfig::constant(Duty::constant(30_000), 3, 32, 128);

#[test]
fn state_is_six_bytes() {
    assert_eq!(size_of::<EffectGuard>(), 6);
}

/// Every count and alarm, with extremes, excesses and duties at and around every threshold: the
/// truth table row by row, over the whole word (overflow checks are on).
#[test]
fn every_state_follows_the_truth_table() {
    let marks = [
        i16::MIN,
        -1,
        0,
        96,
        97,
        127,
        128,
        129,
        159,
        160,
        161,
        200,
        232,
        233,
        i16::MAX,
    ];
    let mut cases = 0_u64;
    for count in 0..=3 {
        for alarm in [false, true] {
            for extreme in marks {
                for excess in marks {
                    for duty in [0, 29_999, 30_000, 32_767] {
                        let mut guard = EffectGuard {
                            extreme,
                            count,
                            alarm,
                        };
                        let says = guard.without_effect(&CONFIG, excess, Duty::constant(duty));
                        let driven = duty >= 30_000 && excess > 128;
                        let answer = i32::from(extreme.max(excess)) - i32::from(excess);
                        let expected = if !driven {
                            (excess, 0, alarm)
                        } else if answer >= 32 {
                            (excess, 0, false)
                        } else if count < 3 {
                            (extreme.max(excess), count + 1, alarm)
                        } else {
                            (extreme.max(excess), count, true)
                        };
                        assert_eq!((guard.extreme, guard.count, guard.alarm), expected);
                        assert_eq!(says, expected.2);
                        cases += 1;
                    }
                }
            }
        }
    }
    assert_eq!(cases, 4 * 2 * 15 * 15 * 4);
}

#[test]
fn a_plant_that_answers_slowly_but_steadily_is_never_reported() {
    let config = EffectConfig::constant(Duty::constant(30_000), 40, 32, 128);
    let mut guard = EffectGuard::new();
    for sample in 0..4_000_i16 {
        assert!(!guard.without_effect(&config, 5_000 - sample, Duty::FULL));
    }
}

#[test]
fn refusals() {
    let level = Duty::FULL;
    assert_eq!(EffectConfig::new(level, 0, 1, 0), Err(GuardError::Samples));
    assert_eq!(EffectConfig::new(level, 1, 0, 0), Err(GuardError::Response));
    assert_eq!(EffectConfig::new(level, 1, 1, -1), Err(GuardError::Margin));
}

#[test]
fn the_alarm_stays_on_until_it_is_reset() {
    let mut guard = EffectGuard::new();
    assert!(!guard.active());
    for _ in 0..4 {
        guard.without_effect(&CONFIG, 200, Duty::FULL);
    }
    guard.without_effect(&CONFIG, 0, Duty::OFF);
    assert!(guard.active());
    guard.reset();
    assert_eq!(guard, EffectGuard::new());
}
