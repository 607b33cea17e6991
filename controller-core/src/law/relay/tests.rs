extern crate std;
use super::*;
use std::string::ToString;

#[test]
fn quotients_and_roots() {
    let mut seed = 12_345_u64;
    for _ in 0..20_000 {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let value = seed >> 3;
        let by = (seed.rotate_left(29) >> (seed & 31)).max(1) >> 2 | 1;
        assert_eq!(
            divide(value >> 1, by),
            ((value >> 1) + by / 2) / by,
            "{value} {by}"
        );
        let root = square_root(value);
        assert!(
            u128::from(root).pow(2) <= u128::from(value)
                && u128::from(root + 1).pow(2) > u128::from(value)
        );
    }
}

#[test]
fn refuses_what_it_cannot_do() {
    let good = RelaySettings {
        bias: 16000,
        d: 4000,
        hysteresis: 8,
        cycles: 4,
        patience: 1000,
        action: Action::Direct,
    };
    assert!(Relay::new(good).is_ok());
    assert_eq!(
        Relay::new(RelaySettings { d: 0, ..good }),
        Err(RelayError::Duty)
    );
    assert_eq!(
        Relay::new(RelaySettings { bias: 3999, ..good }),
        Err(RelayError::Duty)
    );
    assert_eq!(
        Relay::new(RelaySettings {
            bias: 28768,
            ..good
        }),
        Err(RelayError::Duty)
    );
    assert_eq!(
        Relay::new(RelaySettings {
            hysteresis: -1,
            ..good
        }),
        Err(RelayError::Hysteresis)
    );
    assert_eq!(
        Relay::new(RelaySettings { cycles: 0, ..good }),
        Err(RelayError::Cycles)
    );
    assert_eq!(
        Relay::new(RelaySettings { cycles: 17, ..good }),
        Err(RelayError::Cycles)
    );
}

#[test]
fn gives_up_without_a_cycle() {
    let settings = RelaySettings {
        bias: 16000,
        d: 4000,
        hysteresis: 8,
        cycles: 4,
        patience: 20,
        action: Action::Direct,
    };
    let mut relay = Relay::new(settings).unwrap();
    let mut last = Progress::Running(0);
    for _ in 0..30 {
        last = relay.step(5000, 5000);
    }
    assert_eq!(last, Progress::Failed);
}

#[test]
fn limits_of_what_it_can_do() {
    let good = RelaySettings {
        bias: 16_000,
        d: 16_000,
        hysteresis: 0,
        cycles: 1,
        patience: 0,
        action: Action::Direct,
    };
    assert!(Relay::new(good).is_ok(), "from 0 to 32000");
    let with = |bias, d| Relay::new(RelaySettings { bias, d, ..good });
    assert!(with(16_384, 16_383).is_ok(), "to 32767");
    assert!(with(16_385, 16_383).is_err() && with(16_000, 16_001).is_err() && with(9, -1).is_err());
    assert!(with(i16::MAX, i16::MAX).is_err() && with(i16::MIN, 5).is_err());
    assert!(Relay::new(RelaySettings { cycles: 16, ..good }).is_ok());
    for (error, word) in [
        (RelayError::Duty, "within 0 to 32767"),
        (RelayError::Hysteresis, "zero or more"),
        (RelayError::Cycles, "1 to 16"),
    ] {
        assert!(error.to_string().contains(word), "{error}");
    }
}

/// Sample `k` of a triangle of this amplitude and quarter period about the set point: 0, up, 0, down.
fn triangle(k: i16, amplitude: i16, quarter: i16) -> i16 {
    let phase = k % (4 * quarter);
    let step = amplitude / quarter;
    match phase / quarter {
        0 => phase * step,
        1 | 2 => (2 * quarter - phase) * step,
        _ => (phase - 4 * quarter) * step,
    }
}

/// A measurement that swings by itself, so that amplitude and period are known exactly; the gain is the
/// describing function's, in f64. Both actions, with and without hysteresis.
#[test]
fn reads_amplitude_period_and_gain_off_a_known_cycle() {
    let mut cases = 0;
    for action in [Action::Direct, Action::Reverse] {
        for (amplitude, quarter, hysteresis) in
            [(300, 10, 0), (300, 10, 40), (960, 24, 200), (60, 60, 59)]
        {
            for (cycles, d) in [(1, 4_000), (4, 4_000), (16, 1)] {
                for set_point in [0, 5_000, -5_000] {
                    let settings = RelaySettings {
                        bias: 16_000,
                        d,
                        hysteresis,
                        cycles,
                        patience: 500,
                        action,
                    };
                    let mut relay = Relay::new(settings).unwrap();
                    let mut ups = 0;
                    let mut output = 16_000 + d;
                    let seen = (0..).find_map(|k| {
                        let swing = triangle(k, amplitude, quarter);
                        let error = match action {
                            Action::Direct => swing,
                            Action::Reverse => -swing,
                        };
                        // switches beyond the hysteresis, holds within it
                        let wanted = if error > hysteresis {
                            16_000 + d
                        } else if error < -hysteresis {
                            16_000 - d
                        } else {
                            output
                        };
                        ups += u8::from(wanted > output);
                        output = wanted;
                        match relay.step(set_point, set_point + swing) {
                            Progress::Running(duty) => {
                                assert_eq!(duty, wanted, "sample {k}");
                                assert!(ups < cycles + 2);
                                None
                            }
                            Progress::Done(seen) => Some(seen),
                            Progress::Failed => panic!("failed"),
                        }
                    });
                    assert_eq!(ups, cycles + 2);
                    let seen = seen.unwrap();
                    assert_eq!(seen.amplitude, amplitude as u16);
                    assert_eq!(seen.period_q4, 16 * 4 * quarter as u32);
                    let (a, h) = (f64::from(amplitude), f64::from(hysteresis));
                    let ku = 4.0 * f64::from(d) / (core::f64::consts::PI * (a * a - h * h).sqrt());
                    let off = f64::from(seen.gain_q8) - 256.0 * ku;
                    // half a count, and the root is floored to a sixteenth of a count
                    let root = 16.0 * (a * a - h * h).sqrt();
                    assert!(
                        off.abs() <= 0.51 + 256.0 * ku / (root - 1.0),
                        "{off} at {ku}"
                    );
                    // the result stays
                    assert_eq!(relay.step(set_point, set_point), Progress::Done(seen));
                    cases += 1;
                }
            }
        }
    }
    assert_eq!(cases, 2 * 4 * 3 * 3);
}

/// An amplitude within the hysteresis is no cycle: it cannot be told from noise.
#[test]
fn a_swing_that_is_no_wider_than_the_hysteresis_fails() {
    let relay = |swings: u32, hysteresis: i16| Relay {
        swings,
        ..Relay::new(RelaySettings {
            bias: 16_000,
            d: 4_000,
            hysteresis,
            cycles: 2,
            patience: 9,
            action: Action::Direct,
        })
        .unwrap()
    };
    // two cycles of 200 peak to peak: an amplitude of 100
    assert_eq!(relay(400, 100).conclude(), Progress::Failed);
    assert_eq!(relay(400, 101).conclude(), Progress::Failed);
    assert_eq!(relay(0, 0).conclude(), Progress::Failed);
    let Progress::Done(seen) = relay(400, 99).conclude() else {
        panic!("a swing just wider")
    };
    // 4 * 4000 / (pi sqrt(100^2 - 99^2)) = 361.0
    assert!(
        (f64::from(seen.gain_q8) / 256.0 - 361.03).abs() < 2.0,
        "{seen:?}"
    );
    assert_eq!(seen.amplitude, 100);
    // so small a swing that the gain meets its limit: 4 * 32767 / (pi * 1/16 count) * 2^8 > 2^24
    let tiny = Relay {
        swings: 1,
        settings: RelaySettings {
            d: 16_000,
            cycles: 8,
            hysteresis: 0,
            ..relay(0, 0).settings
        },
        ..relay(0, 0)
    };
    let Progress::Done(seen) = tiny.conclude() else {
        panic!("a cycle")
    };
    assert_eq!((seen.gain_q8, seen.amplitude), (1 << 24, 0));
}

/// Patience counts samples since the last switch; the last one still counts as patience.
#[test]
fn gives_up_after_its_patience() {
    let settings = RelaySettings {
        bias: 16_000,
        d: 4_000,
        hysteresis: 8,
        cycles: 4,
        patience: 20,
        action: Action::Direct,
    };
    let mut relay = Relay::new(settings).unwrap();
    let ends = |relay: &mut Relay, measurement: i16| {
        (1..).find(|_| relay.step(5_000, measurement) == Progress::Failed)
    };
    assert_eq!(ends(&mut relay.clone(), 5_000), Some(21));
    // a switch begins the count anew
    for _ in 0..15 {
        assert_eq!(relay.step(5_000, 5_000), Progress::Running(20_000));
    }
    assert_eq!(relay.step(5_000, 4_991), Progress::Running(12_000));
    assert_eq!(ends(&mut relay, 5_000), Some(21));
    // the greatest patience has no end
    let patient = RelaySettings {
        patience: u16::MAX,
        ..settings
    };
    let mut relay = Relay::new(patient).unwrap();
    for _ in 0..70_000 {
        assert_eq!(relay.step(5_000, 5_000), Progress::Running(20_000));
    }
}

/// Gains against the rules of the papers in f64, for several scales and filters.
#[test]
fn rules_are_the_published_ones() {
    fn check<const SP: u32, const K: u32>(rule: Rule, k: f64, ti: f64, td: f64) -> u32 {
        let mut cases = 0;
        for (ku, tu) in [(20.0, 100.0), (1.5, 31.0), (90.0, 900.0), (0.4, 250.0)] {
            let seen = Ultimate {
                gain_q8: (ku * 256.0) as u32,
                period_q4: (tu * 16.0) as u32,
                amplitude: 50,
            };
            let kc = k * f64::from(seen.gain_q8) / 256.0;
            let gains = rule.gains::<SP, K>(seen);
            for (got, exact) in [
                (gains.kp, kc * f64::from(1 << SP)),
                (gains.ki, kc / (ti * tu) * 65_536.0),
                (
                    gains.kd,
                    kc * td * tu / f64::from(1 << K) * f64::from(1 << SP),
                ),
            ] {
                let exact = exact.min(65_535.0);
                // shares of 16 bits, then rounding (kd: and the period's) down by less than a count
                assert!(
                    (f64::from(got) - exact).abs() <= 1.0 + 3e-4 * exact,
                    "{rule:?} {SP} {K}: {got}, not {exact}"
                );
            }
            cases += 1;
        }
        cases
    }
    let mut cases = 0;
    for (rule, k, ti, td) in [
        (Rule::ZieglerNicholsPi, 0.45, 1.0 / 1.2, 0.0),
        (Rule::ZieglerNicholsPid, 0.6, 0.5, 0.125),
        (Rule::TyreusLuybenPi, 1.0 / 3.2, 2.2, 0.0),
        (Rule::TyreusLuybenPid, 1.0 / 2.2, 2.2, 1.0 / 6.3),
    ] {
        cases += check::<8, 3>(rule, k, ti, td);
        cases += check::<4, 0>(rule, k, ti, td);
        cases += check::<12, 6>(rule, k, ti, td);
    }
    assert_eq!(cases, 4 * 3 * 4);
    // 0.45 * 1.5 * 16 = 10.8 rounds up
    let seen = Ultimate {
        gain_q8: 384,
        period_q4: 1_600,
        amplitude: 50,
    };
    assert_eq!(Rule::ZieglerNicholsPi.gains::<4, 0>(seen).kp, 11);
    // nothing seen, nothing divided by
    let nothing = Ultimate {
        gain_q8: 0,
        period_q4: 0,
        amplitude: 0,
    };
    let zero = Mantissas {
        kp: 0,
        ki: 0,
        kd: 0,
    };
    assert_eq!(Rule::ZieglerNicholsPid.gains::<8, 3>(nothing), zero);
}
