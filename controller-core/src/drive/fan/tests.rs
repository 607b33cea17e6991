use super::{Airflow, Fan, FanConfig, FanError, FanParts, Phase, Slew, SpinUp, Stop};
use crate::duty::Duty;
use crate::message::tests::speaks;
use core::mem::size_of;

const PARTS: FanParts = FanParts {
    floor: Duty::constant(6_000),
    spin_up: SpinUp {
        level: Duty::constant(20_000),
        ticks: 3,
    },
    stop: Stop::Below {
        stop: Duty::constant(1_000),
        start: Duty::constant(4_000),
    },
    airflow: None,
    slew: Slew {
        rise: 2_000,
        fall: 500,
    },
};
const CONFIG: FanConfig = FanConfig::constant(PARTS);

fn running_at(bits: i16) -> Fan {
    Fan {
        target: Duty::constant(bits),
        ticks_left: 0,
        phase: Phase::Running,
    }
}

#[test]
fn state_is_six_bytes() {
    assert_eq!(size_of::<Fan>(), 6);
}

#[test]
fn rests_until_the_start_threshold_then_is_pushed_for_the_stated_ticks() {
    let mut fan = Fan::new();
    assert_eq!(fan.demand(&CONFIG, Duty::constant(3_999)), Duty::OFF);
    assert_eq!(fan.tick(&CONFIG), Duty::OFF);
    assert_eq!(
        fan.demand(&CONFIG, Duty::constant(4_000)).bits(),
        20_000,
        "the demand's answer is the duty that applies, push included"
    );
    for _ in 0..3 {
        assert_eq!(fan.phase(), Phase::SpinUp);
        assert_eq!(fan.tick(&CONFIG).bits(), 20_000);
    }
    assert_eq!(fan.phase(), Phase::Running);
    assert_eq!(fan.tick(&CONFIG).bits(), 6_000, "then the floor");
}

#[test]
fn a_demand_above_the_push_is_not_held_back_by_it() {
    let mut fan = Fan::new();
    fan.demand(&CONFIG, Duty::FULL);
    assert_eq!(fan.tick(&CONFIG), Duty::FULL);
}

#[test]
fn stops_at_the_threshold_and_not_above_it() {
    let mut fan = running_at(6_000);
    assert_eq!(fan.demand(&CONFIG, Duty::constant(1_001)).bits(), 6_000);
    assert_eq!(fan.demand(&CONFIG, Duty::constant(1_000)), Duty::OFF);
    assert_eq!(fan.phase(), Phase::Stopped);
}

#[test]
fn never_stopping_means_never() {
    let config = FanConfig::constant(FanParts {
        stop: Stop::Never,
        ..PARTS
    });
    let mut fan = Fan::new();
    for _ in 0..100 {
        fan.demand(&config, Duty::OFF);
        assert!(fan.tick(&config) >= config.floor());
    }
}

#[test]
fn slews_by_at_most_the_limit_each_way_and_arrives_exactly() {
    let mut fan = running_at(10_000);
    assert_eq!(fan.demand(&CONFIG, Duty::FULL).bits(), 12_000);
    assert_eq!(fan.demand(&CONFIG, Duty::constant(13_999)).bits(), 13_999);
    assert_eq!(fan.demand(&CONFIG, Duty::constant(7_000)).bits(), 13_499);
    assert_eq!(fan.demand(&CONFIG, Duty::constant(13_000)).bits(), 13_000);
}

#[test]
fn safe_is_full_at_once_from_every_phase_and_comes_down_by_the_slew() {
    for phase in [Phase::Stopped, Phase::SpinUp, Phase::Running, Phase::Safe] {
        let mut fan = Fan {
            phase,
            target: Duty::constant(7_000),
            ticks_left: 0,
        };
        fan.safe(&CONFIG);
        assert_eq!(fan.applied(&CONFIG), Duty::FULL);
        for _ in 0..10 {
            assert_eq!(fan.tick(&CONFIG), Duty::FULL, "held from {phase:?}");
        }
        assert_eq!(fan.demand(&CONFIG, Duty::OFF).bits(), 32_767 - 500);
    }
}

#[test]
fn a_push_cut_short_by_the_safe_state_is_completed() {
    let mut fan = Fan::new();
    fan.safe(&CONFIG);
    fan.tick(&CONFIG);
    fan.demand(&CONFIG, Duty::constant(6_000));
    assert_eq!(fan.phase(), Phase::SpinUp, "one of three ticks is done");
    fan.tick(&CONFIG);
    fan.tick(&CONFIG);
    assert_eq!(fan.phase(), Phase::Running);
}

#[test]
fn a_push_on_request_restarts_a_running_fan() {
    let mut fan = running_at(6_000);
    fan.push(&CONFIG);
    for _ in 0..3 {
        assert_eq!(fan.tick(&CONFIG).bits(), 20_000);
    }
    assert_eq!(fan.tick(&CONFIG).bits(), 6_000);
    fan.safe(&CONFIG);
    fan.push(&CONFIG);
    assert_eq!(fan.phase(), Phase::Safe, "never out of the safe state");
}

#[test]
fn a_push_on_request_of_a_fan_at_rest_leads_to_the_floor_and_of_one_that_turns_back_to_its_target()
{
    for (mut fan, after) in [(Fan::new(), 6_000), (running_at(9_000), 9_000)] {
        assert!(!fan.pushed());
        fan.push(&CONFIG);
        for _ in 0..3 {
            assert!(fan.pushed());
            assert_eq!(fan.tick(&CONFIG).bits(), 20_000);
        }
        assert!(!fan.pushed());
        assert_eq!(fan.tick(&CONFIG).bits(), after);
    }
}

/// From every phase, with every kind of target and demand, the duty is off only when stopped, at
/// least the floor otherwise, never above full, and the target moves by no more than the slew.
#[test]
fn every_phase_with_a_grid_of_targets_and_demands() {
    let marks = [
        0, 1, 999, 1_000, 1_001, 3_999, 4_000, 5_999, 6_000, 6_001, 19_999, 20_000, 20_001, 32_766,
        32_767,
    ];
    let mut cases = 0;
    for phase in [Phase::Stopped, Phase::SpinUp, Phase::Running, Phase::Safe] {
        for target in marks.into_iter().filter(|&bits| bits >= 6_000) {
            for ticks_left in 0..=4 {
                if (phase == Phase::SpinUp) != (ticks_left != 0) && phase != Phase::Safe {
                    continue;
                }
                for demand in marks {
                    let before = Fan {
                        target: match phase {
                            Phase::Stopped => Duty::OFF,
                            Phase::Safe => Duty::FULL,
                            _ => Duty::constant(target),
                        },
                        ticks_left,
                        phase,
                    };
                    let mut fan = before;
                    let told = fan.demand(&CONFIG, Duty::constant(demand));
                    assert_eq!(told, fan.applied(&CONFIG));
                    match fan.phase() {
                        Phase::Stopped => assert_eq!(told, Duty::OFF),
                        _ => assert!(told >= CONFIG.floor(), "{before:?} {demand} -> {fan:?}"),
                    }
                    assert_ne!(fan.phase(), Phase::Safe, "a demand leaves the safe state");
                    if before.phase != Phase::Stopped && fan.phase() != Phase::Stopped {
                        let moved = fan.target.bits() - before.target.bits();
                        assert!((-500..=2_000).contains(&moved), "{before:?} -> {fan:?}");
                    }
                    for _ in 0..5 {
                        fan.tick(&CONFIG);
                    }
                    assert_ne!(fan.phase(), Phase::SpinUp, "every push ends");
                    cases += 1;
                }
            }
        }
    }
    // 7 targets x 15 demands x (stopped 1 + spin-up 4 + running 1 + safe 5)
    assert_eq!(cases, 7 * 15 * 11);
}

#[test]
fn more_demand_never_gives_less_duty_from_the_same_state() {
    for target in [6_000, 9_000, 20_000, 32_767] {
        let mut last = Duty::OFF;
        for demand in (0..=32_767).step_by(97) {
            let mut fan = running_at(target);
            let duty = fan.demand(&CONFIG, Duty::constant(demand));
            assert!(duty >= last);
            last = duty;
        }
    }
}

#[test]
fn airflow_is_monotone_near_the_line_and_exact_at_the_ends_for_every_share() {
    let knots = [
        0, 9_830, 14_000, 17_500, 17_500, 23_300, 26_200, 29_400, 32_767,
    ];
    let curve = Airflow::constant(knots);
    let mut last = Duty::OFF;
    let mut cases = 0;
    for share in 0..=Duty::ONE {
        let duty = curve.duty(Duty::constant(share));
        assert!(duty >= last, "falls at {share}");
        last = duty;
        let along = f64::from(share) / 32_767.0 * 8.0;
        let segment = (along as usize).min(7);
        let height = f64::from(knots[segment + 1]) - f64::from(knots[segment]);
        let line = f64::from(knots[segment]) + height * (along - segment as f64);
        // half a step of rounding, and half a step of share at the steepest segment
        let error = (f64::from(duty.bits()) - line).abs();
        assert!(error <= 0.5 + 0.5 * 9_830.0 / 4_096.0, "{share}: {error}");
        cases += 1;
    }
    assert_eq!(cases, 32_768);
    assert_eq!(curve.duty(Duty::OFF), Duty::OFF);
    assert_eq!(curve.duty(Duty::FULL), Duty::FULL);
    // every second eighth below the middle is a whole word
    assert_eq!(curve.duty(Duty::constant(4_096)).bits(), 9_830);
    // 2 * 9 830 / 4 096 = 4.8, rounded
    assert_eq!(curve.duty(Duty::constant(2)).bits(), 5);
    assert_eq!(curve.duty(Duty::constant(12_288)).bits(), 17_500);
}

#[test]
fn refusals_name_what_is_wrong() {
    let refused = |parts| FanConfig::new(parts).unwrap_err();
    assert_eq!(
        refused(FanParts {
            floor: Duty::OFF,
            ..PARTS
        }),
        FanError::NoFloor
    );
    assert_eq!(
        refused(FanParts {
            spin_up: SpinUp {
                level: Duty::constant(5_999),
                ticks: 1
            },
            ..PARTS
        }),
        FanError::PushBelowFloor
    );
    for slew in [Slew { rise: 0, fall: 1 }, Slew { rise: 1, fall: 0 }] {
        assert_eq!(refused(FanParts { slew, ..PARTS }), FanError::NoSlew);
    }
    let level = Duty::constant(1_000);
    let stop = Stop::Below {
        stop: level,
        start: level,
    };
    assert_eq!(refused(FanParts { stop, ..PARTS }), FanError::NoHysteresis);
    let mut falling = [0, 1, 2, 3, 4, 5, 6, 7, 32_767];
    assert!(Airflow::new(falling).is_ok());
    falling[4] = 2;
    assert_eq!(Airflow::new(falling), Err(FanError::AirflowKnots));
    assert_eq!(Airflow::new([0; 9]), Err(FanError::AirflowKnots));
    let below_zero = [-1, 1, 2, 3, 4, 5, 6, 7, 32_767];
    assert_eq!(Airflow::new(below_zero), Err(FanError::AirflowKnots));
}

#[test]
fn refusals_say_what_would_be_accepted() {
    for (error, accepted) in [
        (FanError::NoFloor, "1 ..= 32767"),
        (FanError::PushBelowFloor, "the floor ..= 32767"),
        (FanError::NoSlew, "1 ..= 32767 (32767 is no limit)"),
        (FanError::NoHysteresis, "start > stop"),
        (FanError::AirflowKnots, "9 duties, rising"),
    ] {
        speaks(&error, error.message(), "fan: ", accepted);
    }
}

#[test]
fn the_weakest_push_is_the_floor_and_the_slowest_slew_one_step() {
    let level = PARTS.floor;
    let parts = FanParts {
        spin_up: SpinUp { level, ticks: 1 },
        slew: Slew { rise: 1, fall: 1 },
        ..PARTS
    };
    assert!(FanConfig::new(parts).is_ok());
}

#[test]
fn a_fan_with_an_airflow_curve_is_asked_through_it() {
    let knots = [
        0, 9_830, 14_000, 17_500, 17_500, 23_300, 26_200, 29_400, 32_767,
    ];
    let curve = Airflow::constant(knots);
    let config = FanConfig::constant(FanParts {
        airflow: Some(curve),
        ..PARTS
    });
    assert_eq!(config.airflow(), Some(&curve));
    for (demand, wanted) in [
        (0, 6_000),
        (4_096, 9_830),
        (8_192, 14_000),
        (32_767, 32_767),
    ] {
        assert_eq!(config.wanted(Duty::constant(demand)).bits(), wanted);
    }
    assert_eq!(CONFIG.airflow(), None);
    assert_eq!(CONFIG.wanted(Duty::constant(4_096)).bits(), 6_000);
    assert_eq!(CONFIG.wanted(Duty::constant(8_192)).bits(), 8_192);
}
