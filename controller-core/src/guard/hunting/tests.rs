use super::{HuntingConfig, HuntingGuard};
use crate::guard::GuardError;
use core::mem::size_of;

#[test]
fn state_is_eight_bytes() {
    assert_eq!(size_of::<HuntingGuard>(), 8);
}

fn first_report(config: &HuntingConfig, amplitude: f64, period: f64) -> Option<usize> {
    let mut guard = HuntingGuard::new();
    (0..20_000).position(|sample| {
        let phase = core::f64::consts::TAU * (f64::from(sample) + 0.5) / period;
        guard.hunting(config, (amplitude * phase.sin()).round() as i16)
    })
}

/// A swing a little above the amplitude that the limit stands for is reported in the stated time;
/// one a little below never is. Rows of Hagglund's IAE = 2 a / w, scaled into steps and samples.
#[test]
fn a_swing_is_reported_above_its_limit_and_not_below() {
    for (amplitude, period) in [(64.0, 90.0), (200.0, 40.0), (500.0, 300.0)] {
        let limit = HuntingConfig::limit_of_swing(amplitude, period);
        let forget = period as u16; // supervision of ten periods for ten detections
        let config = HuntingConfig::constant(limit, forget, 10);
        let stated = 10.0 / (2.0 / period - 1.0 / f64::from(forget));
        let found = first_report(&config, amplitude * 1.1, period).expect("reported") as f64;
        assert!(
            (found - stated).abs() <= period,
            "{amplitude} {period}: {found} against {stated}"
        );
        assert_eq!(first_report(&config, amplitude * 0.9, period), None);
    }
}

#[test]
fn a_sum_that_stands_exactly_at_the_limit_goes_on_growing() {
    let config = HuntingConfig::constant(10, 1_000, 1);
    let swing = |samples: i32| {
        let mut guard = HuntingGuard::new();
        for _ in 0..samples {
            guard.hunting(&config, 1);
        }
        guard.hunting(&config, -1)
    };
    assert!(!swing(10), "the limit itself is not a detection");
    assert!(swing(11));
    assert!(swing(25));
}

#[test]
fn a_swing_slower_than_the_memory_is_not_reported() {
    let config = HuntingConfig::constant(100, 50, 3);
    assert!(first_report(&config, 200.0, 90.0).is_some());
    assert_eq!(first_report(&config, 200.0, 110.0), None);
}

#[test]
fn a_load_step_is_not_hunting_and_hunting_is_forgotten() {
    let config = HuntingConfig::constant(1_000, 100, 4);
    let mut guard = HuntingGuard::new();
    for sample in 0..500_i16 {
        // one large excursion and its undershoot
        let error = match sample {
            0..100 => 900,
            100..200 => -300,
            _ => 0,
        };
        assert!(!guard.hunting(&config, error));
    }
    for half in 0..12 {
        for _ in 0..20 {
            guard.hunting(&config, if half % 2 == 0 { 300 } else { -300 });
        }
    }
    assert!(guard.active());
    let calm_after = (0..).take_while(|_| guard.hunting(&config, 0)).count();
    assert!((300..=400).contains(&calm_after), "{calm_after}");
    assert_eq!(guard.count, 0);
}

/// Every state on a grid with the corners of every field, with every sign and size of error:
/// counts and sum stay within their bounds, nothing wraps (overflow checks are on), and hunting
/// changes only as the table says.
#[test]
fn every_corner_stays_within_its_bounds() {
    let mut cases = 0_u64;
    for (limit, forget, detections) in [
        (1, 1, 1),
        (1_000, 100, 4),
        (HuntingConfig::LIMIT_MAX, u16::MAX, u8::MAX),
    ] {
        let config = HuntingConfig::constant(limit, forget, detections);
        for sum in [0, 1, limit - 1, limit, limit + 1, limit + 32_768] {
            for age in [0, 1.min(forget - 1), forget - 1] {
                for count in [0, 1, detections - 1, detections] {
                    for flags in 0..4 {
                        for error in [i16::MIN, -1, 0, 1, i16::MAX] {
                            let before = HuntingGuard {
                                sum,
                                age,
                                count,
                                flags,
                            };
                            let mut guard = before;
                            let says = guard.hunting(&config, error);
                            assert!(guard.sum <= limit + 32_768);
                            assert!(guard.age < forget);
                            let was = flags & HuntingGuard::NEGATIVE != 0;
                            let is = guard.flags & HuntingGuard::NEGATIVE != 0;
                            assert_eq!(is, if error == 0 { was } else { error < 0 });
                            let kept = if is == was { sum } else { 0 };
                            let added = if kept > limit {
                                0
                            } else {
                                error.unsigned_abs()
                            };
                            assert_eq!(guard.sum, kept + u32::from(added));
                            assert!(guard.count <= detections);
                            if says && !before.active() {
                                assert_eq!(guard.count, detections);
                            }
                            if !says && before.active() {
                                assert!(age + 1 == forget && count <= 1);
                            }
                            cases += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(cases, 3 * 6 * 3 * 4 * 4 * 5);
}

#[test]
fn refusals_and_limits() {
    assert_eq!(
        HuntingConfig::new(0, 1, 1),
        Err(GuardError::IntegratedError)
    );
    assert_eq!(
        HuntingConfig::new((1 << 31) + 1, 1, 1),
        Err(GuardError::IntegratedError)
    );
    assert_eq!(HuntingConfig::new(1, 0, 1), Err(GuardError::Samples));
    assert_eq!(HuntingConfig::new(1, 1, 0), Err(GuardError::Detections));
    assert_eq!(HuntingConfig::limit_of_swing(0.0, 10.0), 1);
    // 2 a / w for a = 1 000 steps and w = 1 / sample: HAGG-IAE-1-1 scaled
    let period = core::f64::consts::TAU;
    assert_eq!(HuntingConfig::limit_of_swing(1_000.0, period), 2_000);
}

#[test]
fn a_restart_is_calm_and_forgets_what_was_counted() {
    let config = HuntingConfig::constant(10, 1_000, 2);
    let mut guard = HuntingGuard::new();
    for half in 0..4 {
        guard.hunting(&config, if half % 2 == 0 { 100 } else { -100 });
    }
    assert!(guard.active());
    guard.restart();
    assert_eq!(guard, HuntingGuard::new());
    assert!(!guard.active());
}
