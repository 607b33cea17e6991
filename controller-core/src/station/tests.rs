mod self_test;

use super::{Law, Next, Pi, Pid, Station, StationConfig, StationError, StationParts, halved};
use crate::drive::dither::{DitherConfig, Polarity};
use crate::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
use crate::drive::fans::FansConfig;
use crate::drive::output::{FanDrive, FanDriveConfig, SwitchedHeaterDrive};
use crate::drive::tachometer::RotationConfig;
use crate::drive::time_proportional::{TimeProportionalConfig, TimeProportionalParts, Unit};
use crate::drive::wiring::Wiring;
use crate::duty::Duty;
use crate::fields::Fields;
use crate::gain::Mantissas;
use crate::guard::effect::EffectConfig;
use crate::guard::hunting::{HuntingConfig, OnHunting};
use crate::guard::rate::RateConfig;
use crate::guard::sensor::SensorConfig;
use crate::guard::stale::StaleConfig;
use crate::guard::stuck::StuckConfig;
use crate::guard::trip::TripConfig;
use crate::guard::{Alarm, Alarms, GuardsConfig};
use crate::law::{Action, PiState, PidState, Settings};
use crate::setpoint::{SetPoint, Weight};
use core::mem::size_of;
use fixed::FixedI16;
use fixed::types::extra::U7;

const FLOOR: Duty = Duty::constant(6_553);
const GAINS: Mantissas<i16> = Mantissas {
    kp: 2_000,
    ki: 600,
    kd: 0,
};

const COOL_PARTS: StationParts<8, FanDrive> = StationParts {
    settings: Settings::<i16, 8>::constant(GAINS, FLOOR.bits(), Duty::ONE, Action::Direct),
    set_point: FixedI16::<U7>::lit("40"),
    drive: FanDriveConfig {
        fans: FansConfig {
            fans: [FanConfig::constant(FanParts {
                floor: FLOOR,
                spin_up: SpinUp {
                    level: Duty::FULL,
                    ticks: 2,
                },
                stop: Stop::Never,
                airflow: None,
                slew: Slew::NONE,
            })],
            stagger: 0,
        },
        timer: DitherConfig::constant(1_000, FLOOR, Polarity::ActiveHigh),
        tachometer: Some(RotationConfig::constant(5, 2, 0)),
        wiring: Wiring::FourWire,
    },
    guards: GuardsConfig {
        sensor: SensorConfig::constant(3, 2),
        stale: StaleConfig::constant(6),
        trip: TripConfig::constant(60 * 128, 5 * 128, 2),
        rate: Some(RateConfig::constant(256)),
        stuck: Some(StuckConfig::constant(50, Duty::constant(3_000))),
        effect: Some(EffectConfig::constant(Duty::constant(32_000), 100, 32, 256)),
        hunting: Some(HuntingConfig::constant(3_000, 40, 4)),
        on_hunting: OnHunting::HalveGains,
    },
};
static COOL: StationConfig<8, FanDrive> = StationConfig::constant(COOL_PARTS);

static HEAT: StationConfig<8, SwitchedHeaterDrive> = StationConfig::constant(StationParts {
    settings: Settings::<i16, 8>::constant(GAINS, 0, Duty::ONE, Action::Reverse),
    set_point: FixedI16::<U7>::lit("40"),
    drive: TimeProportionalConfig::constant(TimeProportionalParts {
        window: 4,
        min_on: 0,
        min_off: 0,
        unit: Unit::Tick,
    }),
    guards: GuardsConfig {
        sensor: SensorConfig::constant(3, 2),
        stale: StaleConfig::constant(6),
        trip: TripConfig::constant(60 * 128, 5 * 128, 2),
        rate: Some(RateConfig::constant(256)),
        stuck: Some(StuckConfig::constant(50, Duty::constant(3_000))),
        effect: Some(EffectConfig::constant(Duty::constant(30_000), 100, 32, 256)),
        hunting: None,
        on_hunting: OnHunting::Report,
    },
});

type Cooling<'c> = Station<'c, Pi, FanDrive, U7, 8>;
type Heating<'c> = Station<'c, Pi, SwitchedHeaterDrive, U7, 8>;

fn celsius(degrees: f64) -> Result<FixedI16<U7>, u8> {
    Ok(FixedI16::from_bits((degrees * 128.0) as i16))
}

const BROKEN: Result<FixedI16<U7>, u8> = Err(1);

/// One sample of four ticks, alive.
fn sample(station: &mut Cooling<'_>, reading: Result<FixedI16<U7>, u8>) -> Duty {
    for _ in 0..4 {
        station.output_tick();
    }
    station.pulses(0, 20);
    assert!(station.step(reading, 4).is_some());
    station.demand()
}

/// Brings a cooling station into ordinary running well inside the duty's range.
fn running() -> Cooling<'static> {
    let mut station = Cooling::new(&COOL);
    sample(&mut station, celsius(40.0));
    let at = station.set_point;
    <Pi as Law<8>>::take_over(&COOL.settings, &mut station.law, at, 40 * 128, 15_000);
    for step in 0..10 {
        sample(&mut station, celsius(40.0 + f64::from(step % 2) / 64.0));
    }
    sample(&mut station, celsius(40.0));
    assert_eq!(station.alarms(), Alarms::NONE);
    assert!((10_000..20_000).contains(&station.demand().bits()));
    station
}

#[test]
fn state_fits_its_budget() {
    // 96 bytes are promised with a 16-bit word and pointer; this machine's pointer has 8 bytes
    assert!(
        size_of::<Cooling<'_>>() <= 96,
        "{}",
        size_of::<Cooling<'_>>()
    );
    assert!(size_of::<Station<'_, Pid<3>, FanDrive, U7, 8>>() <= 104);
    assert_eq!(size_of::<PiState<i16>>(), 4);
    assert_eq!(size_of::<PidState<i16, 3>>(), 8);
}

#[test]
fn safe_until_the_first_usable_reading() {
    let mut station = Cooling::new(&COOL);
    for _ in 0..2 {
        assert_eq!(station.output_tick(), [1_000]);
        assert!(station.step(BROKEN, 1).is_some());
        assert_eq!(station.alarms(), Alarms::NONE, "not yet confirmed");
        assert_eq!(station.output_tick(), [1_000]);
    }
    let _ = station.step(celsius(20.0), 2);
    // P takes 20 K off the full integrator, at 2000 / 256 a step of 1/128 K
    assert_eq!(station.demand().bits(), Duty::ONE - 20_000);
    let mut heater = Heating::new(&HEAT);
    assert!(!heater.output_tick());
    let _ = heater.step(BROKEN, 1);
    assert!(!heater.output_tick());
}

#[test]
fn unconfirmed_faults_hold_the_demand_and_confirmed_ones_are_safe_in_the_same_step() {
    let mut station = running();
    let held = station.demand();
    for _ in 0..2 {
        assert_eq!(sample(&mut station, BROKEN), held);
        assert_eq!(station.applied(), held);
    }
    assert_eq!(sample(&mut station, BROKEN), Duty::FULL);
    assert!(station.alarms().has(Alarm::Sensor));
    assert_eq!(station.output_tick(), [1_000]);
    // one good reading is not yet a recovery
    assert_eq!(sample(&mut station, celsius(40.0)), Duty::FULL);
    assert!(station.alarms().has(Alarm::Sensor));
}

#[test]
fn recovery_is_bumpless_then_moves_at_the_law_s_pace() {
    for degrees in [40.0, 40.5, 45.0, 41.0] {
        let mut station = running();
        for _ in 0..3 {
            sample(&mut station, BROKEN);
        }
        station.rate.restart();
        sample(&mut station, celsius(degrees));
        let first = sample(&mut station, celsius(degrees));
        assert_eq!(first, Duty::FULL, "{degrees}");
        assert_eq!(station.alarms(), Alarms::NONE);
    }
    // too cold by 1 K: full is not attainable (the integrator's clamp); the nearest is
    let mut station = running();
    for _ in 0..3 {
        sample(&mut station, BROKEN);
    }
    sample(&mut station, celsius(39.0));
    let first = sample(&mut station, celsius(39.0));
    assert_eq!(first.bits(), Duty::ONE - 1_000);
    // and then by ki * e = 600 * 128 / 65536 a sample
    let second = sample(&mut station, celsius(39.0));
    assert!((1..=2).contains(&(first.bits() - second.bits())));
}

/// Running is what the last step did: the law ran, on a usable reading, without an alarm.
#[test]
fn running_says_whether_the_law_ran() {
    let mut station = Cooling::new(&COOL);
    assert!(!station.running(), "nothing measured yet");
    let mut running_after = |reading| {
        sample(&mut station, reading);
        station.running()
    };
    assert!(running_after(celsius(40.0)));
    assert!(!running_after(BROKEN), "held");
    assert!(running_after(celsius(40.0)));
    assert_eq!(
        [BROKEN; 3].map(&mut running_after),
        [false; 3],
        "held, then safe"
    );
    assert!(!running_after(celsius(40.0)), "not yet recovered");
    assert!(running_after(celsius(40.0)));
}

#[test]
fn after_held_samples_nothing_jumps() {
    let mut station = running();
    let before = sample(&mut station, celsius(40.0));
    sample(&mut station, BROKEN);
    let after = sample(&mut station, celsius(40.0));
    assert_eq!(before, after);
}

#[test]
fn a_late_sample_is_safe_for_that_step_and_a_missing_one_from_the_tick_on() {
    let mut station = running();
    for _ in 0..6 {
        assert_ne!(station.output_tick(), [1_000]);
    }
    assert_eq!(station.output_tick(), [1_000], "the tick after the limit");
    assert!(station.alarms().has(Alarm::Stale));
    assert!(station.step(celsius(40.0), 7).is_some());
    assert_eq!(station.demand(), Duty::FULL, "late: safe for this step too");
    assert_eq!(sample(&mut station, celsius(40.0)), Duty::FULL, "bumpless");
    assert_eq!(station.alarms(), Alarms::NONE);
    let mut station = running();
    station.output_tick();
    let _ = station.step(celsius(40.0), 7);
    assert!(
        station.alarms().has(Alarm::Stale),
        "by the firmware's own count"
    );
    assert_eq!(station.output_tick(), [1_000]);
}

#[test]
fn a_noise_burst_is_held_and_a_real_jump_ends_safe() {
    let mut station = running();
    let held = station.demand();
    assert_eq!(sample(&mut station, celsius(48.0)), held);
    assert_eq!(sample(&mut station, celsius(32.0)), held);
    sample(&mut station, celsius(40.0));
    assert_eq!(station.alarms_seen(), Alarms::NONE);
    let mut station = running();
    let steps = (1..20).find(|_| sample(&mut station, celsius(55.0)) == Duty::FULL);
    assert_eq!(steps, Some(3), "confirmed by 3 samples");
}

#[test]
fn the_trip_latches_until_a_reset_once_cool() {
    let mut station = running();
    sample(&mut station, celsius(60.0)); // implausible, and yet the trip counts it
    assert!(!station.alarms().has(Alarm::Trip));
    assert_eq!(sample(&mut station, celsius(60.0)), Duty::FULL);
    assert!(station.alarms().has(Alarm::Trip));
    assert!(!station.reset(), "too hot");
    station.rate.restart();
    for _ in 0..3 {
        assert_eq!(sample(&mut station, celsius(55.5)), Duty::FULL);
    }
    assert!(!station.reset(), "not below the hysteresis");
    sample(&mut station, celsius(55.0));
    sample(&mut station, celsius(55.0));
    assert!(station.alarms().has(Alarm::Trip), "latched");
    assert!(station.reset());
    sample(&mut station, celsius(54.9));
    assert_eq!(station.alarms(), Alarms::NONE);
}

#[test]
fn a_reset_does_not_release_the_trip_on_a_dead_sensor() {
    let mut station = running();
    for _ in 0..2 {
        sample(&mut station, celsius(60.0));
    }
    station.rate.restart();
    sample(&mut station, celsius(50.0));
    for _ in 0..3 {
        sample(&mut station, BROKEN);
    }
    assert!(!station.reset());
    assert!(station.alarms().has(Alarm::Trip));
}

#[test]
fn a_stuck_reading_is_noticed_when_the_duty_has_travelled() {
    let mut station = running();
    let stuck_after = (1..5_000).find(|_| {
        sample(&mut station, celsius(41.0));
        station.alarms().has(Alarm::Stuck)
    });
    // the duty moves by 600 * 128 / 65536 = 1.17 a sample, 3000 are asked for
    assert!(
        (2_500..2_700).contains(&stuck_after.unwrap()),
        "{stuck_after:?}"
    );
    assert_eq!(station.demand(), Duty::FULL);
    sample(&mut station, celsius(40.9));
    assert!(!station.alarms().has(Alarm::Stuck), "it moves");
}

#[test]
fn a_plant_without_answer_is_noticed_and_answers() {
    let mut station = running();
    let noticed = (1..500).find(|step| {
        let wobble = f64::from(step % 2) / 64.0;
        // hot enough for full duty, and approached within the rate limit
        sample(
            &mut station,
            celsius(57.0_f64.min(40.0 + f64::from(*step)) + wobble),
        );
        station.alarms().has(Alarm::NoEffect)
    });
    assert!((100..130).contains(&noticed.unwrap()), "{noticed:?}");
    sample(&mut station, celsius(56.5));
    sample(&mut station, celsius(56.0));
    assert!(!station.alarms().has(Alarm::NoEffect));
}

#[test]
fn a_heater_without_effect_stays_off_until_the_reset() {
    let mut station = Heating::new(&HEAT);
    let step = |station: &mut Heating<'_>, degrees: f64| {
        for _ in 0..4 {
            station.output_tick();
        }
        let _ = station.step(celsius(degrees), 4);
    };
    for sample in 0..3_000 {
        step(&mut station, 20.0 + f64::from(sample % 2) / 64.0);
    }
    assert!(station.alarms().has(Alarm::NoEffect));
    assert!(!station.output_tick());
    for _ in 0..300 {
        step(&mut station, 19.0);
        step(&mut station, 19.1);
        assert_eq!(station.demand(), Duty::OFF, "still off");
    }
    station.reset();
    step(&mut station, 19.0);
    step(&mut station, 19.1);
    assert!(station.alarms() == Alarms::NONE && station.demand() > Duty::OFF);
}

#[test]
fn a_fan_that_does_not_turn_is_answered_in_the_same_call() {
    let mut station = running();
    station.pulses(0, 0);
    assert!(!station.alarms().has(Alarm::Tachometer));
    station.pulses(0, 0);
    assert!(station.alarms().has(Alarm::Tachometer));
    assert_eq!(station.output_tick(), [1_000]);
    let _ = station.step(celsius(40.0), 4);
    assert_eq!(station.demand(), Duty::FULL);
    sample(&mut station, celsius(40.0));
    assert_eq!(
        sample(&mut station, celsius(40.1)),
        Duty::FULL,
        "turns again, bumpless"
    );
    assert_eq!(station.alarms(), Alarms::NONE);
}

#[test]
fn hunting_halves_the_gains_without_a_bump() {
    let mut station = running();
    let swing = |step: u32| {
        let phase = core::f64::consts::TAU * f64::from(step) / 40.0;
        celsius(40.0 + 3.0 * phase.sin())
    };
    let mut seen = None;
    let mut last = station.demand();
    for step in 0..2_000 {
        let demand = sample(&mut station, swing(step));
        if station.gains_halved() && seen.is_none() {
            seen = Some(step);
            // the largest change a sample at the full gains is 3 K * 2 pi / 40 * 1000 / K
            let change = i32::from(demand.bits()) - i32::from(last.bits());
            assert!(change.abs() <= 500, "{change}");
        }
        last = demand;
    }
    assert!(seen.unwrap() > 40 && seen.unwrap() < 400, "{seen:?}");
    assert!(station.alarms_seen().has(Alarm::Hunting));
    assert_eq!(station.settings(), halved(&COOL.settings));
    let before = station.demand();
    station.reset();
    let after = sample(&mut station, swing(1_999));
    assert_eq!(
        before, after,
        "back to the full gains, again without a bump"
    );
    assert!(!station.gains_halved());
}

/// The reset of halved gains is bumpless after a held sample, too.
#[test]
fn full_gains_come_back_without_a_bump_after_a_held_sample() {
    let mut station = running();
    let near = celsius(41.0);
    sample(&mut station, near);
    <Pi as Law<8>>::absorb_halving(
        &COOL.settings,
        &mut station.law,
        station.set_point,
        41 * 128,
    );
    station.halved = true;
    let before = sample(&mut station, near);
    sample(&mut station, BROKEN);
    station.reset();
    assert_eq!(sample(&mut station, near), before);
    assert!(!station.gains_halved());
}

/// A held sample between a safe state and the law's return does not make it forget to take over.
#[test]
fn a_held_sample_after_a_safe_state_is_bumpless() {
    let mut station = running();
    let _ = station.step(celsius(40.0), 7);
    assert_eq!(station.demand(), Duty::FULL, "late");
    assert_eq!(sample(&mut station, BROKEN), Duty::FULL, "held");
    assert_eq!(station.alarms(), Alarms::NONE);
    assert_eq!(sample(&mut station, celsius(40.0)), Duty::FULL, "bumpless");
}

/// After held samples the derivative begins anew: what the temperature did meanwhile is no kick.
#[test]
fn a_derivative_begins_anew_after_held_samples() {
    const WITH_D: StationConfig<8, FanDrive> = StationConfig::constant(StationParts {
        settings: Settings::<i16, 8>::constant(
            Mantissas {
                kp: 0,
                ki: 0,
                kd: 20_000,
            },
            FLOOR.bits(),
            Duty::ONE,
            Action::Direct,
        ),
        ..COOL_PARTS
    });
    let mut station: Station<'_, Pid<3>, FanDrive, U7, 8> = Station::new(&WITH_D);
    let mut step = |reading| {
        station.output_tick();
        station.pulses(0, 20);
        let _ = station.step(reading, 1);
        station.demand()
    };
    let calm = step(celsius(40.0));
    assert_eq!(step(celsius(40.0)), calm);
    assert_eq!(step(BROKEN), calm);
    assert_eq!(step(celsius(41.0)), calm, "1 K hotter, and no kick");
    assert!(step(celsius(42.0)) > calm, "but now");
}

#[test]
fn halving_absorbs_exactly_for_pi_and_pid() {
    let settings = Settings::<i16, 8>::constant(
        Mantissas {
            kp: 2_001,
            ki: 0,
            kd: 777,
        },
        0,
        Duty::ONE,
        Action::Reverse,
    );
    let calm = halved(&settings);
    let set_point = SetPoint::<i16>::constant(40 * 128);
    for measurement in (4_900..5_300).step_by(7) {
        let mut pi = PiState::start(&settings);
        <Pi as Law<8>>::take_over(&settings, &mut pi, set_point, 5_100, 16_000);
        let full = <Pi as Law<8>>::terms(&settings, &pi, set_point, measurement).demand;
        <Pi as Law<8>>::absorb_halving(&settings, &mut pi, set_point, measurement);
        let half = <Pi as Law<8>>::terms(&calm, &pi, set_point, measurement).demand;
        assert_eq!(full, half, "{measurement}");
        let mut pid = PidState::<_, 3>::start(&settings, 5_100);
        <Pid<3> as Law<8>>::take_over(&settings, &mut pid, set_point, 5_100, 16_000);
        let full = <Pid<3> as Law<8>>::terms(&settings, &pid, set_point, measurement).demand;
        <Pid<3> as Law<8>>::absorb_halving(&settings, &mut pid, set_point, measurement);
        let half = <Pid<3> as Law<8>>::terms(&calm, &pid, set_point, measurement).demand;
        assert_eq!(full, half, "{measurement}");
    }
    assert_eq!(super::law::halved(&settings).mantissas().kp, 1_001);
}

#[test]
fn take_over_gives_the_duty_wherever_it_is_attainable() {
    let mut cases = 0;
    for action in [Action::Direct, Action::Reverse] {
        let settings = Settings::<i16, 8>::constant(GAINS, 2_000, 30_000, action);
        let set_point = SetPoint::<i16>::constant(40 * 128);
        for measurement in (-16_384..=16_383).step_by(37).chain([i16::MIN, i16::MAX]) {
            for duty in [2_000, 2_001, 16_000, 29_999, 30_000] {
                let mut state = PiState::start(&settings);
                <Pi as Law<8>>::take_over(&settings, &mut state, set_point, measurement, duty);
                let got = <Pi as Law<8>>::terms(&settings, &state, set_point, measurement).demand;
                let error = f64::from(super::law::error(&settings, set_point, measurement));
                let p = error * 2_000.0 / 256.0;
                // the integrator reaches lo - 1/2 ..= hi + 1/2
                let integral = (f64::from(duty) - p).clamp(1_999.5, 30_000.5);
                let nearest = (integral + p).clamp(2_000.0, 30_000.0);
                assert!(
                    (f64::from(got) - nearest).abs() <= 1.0,
                    "{measurement} {duty} {got}"
                );
                if integral == f64::from(duty) - p {
                    assert_eq!(got, duty);
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 2 * 888 * 5);
}

#[test]
fn a_set_point_change_is_bumpless_or_plain_and_never_reaches_the_trip() {
    let mut station = running();
    let before = sample(&mut station, celsius(40.0));
    station
        .change_set_point(FixedI16::<U7>::lit("42"), Weight::bumpless())
        .unwrap();
    let terms = station.terms(FixedI16::<U7>::lit("40"));
    assert!(terms.demand.abs_diff(before.bits()) <= 2);
    station
        .change_set_point(FixedI16::<U7>::lit("40"), Weight::plain())
        .unwrap();
    let kicked = station.terms(FixedI16::<U7>::lit("40"));
    assert!(kicked.demand.abs_diff(before.bits() + 2_000) <= 2);
    assert_eq!(station.set_point(), FixedI16::<U7>::lit("40"));
    let hot = station.change_set_point(FixedI16::<U7>::lit("60"), Weight::plain());
    assert_eq!(hot, Err(StationError::SetPointAtTrip));
    let cold = station.change_set_point(FixedI16::<U7>::lit("-130"), Weight::plain());
    assert_eq!(cold, Err(StationError::SetPointOutsideDomain));
    assert_eq!(station.set_point(), FixedI16::<U7>::lit("40"));
}

/// What telemetry shows is what the next step does, also where the law has yet to start, to take over from the safe
/// state, or to begin its derivative anew.
#[test]
fn terms_are_those_of_the_next_step_however_it_begins() {
    let gains = Mantissas {
        kp: 600,
        ki: 20,
        kd: 9_000,
    };
    let settings = Settings::<i16, 8>::constant(gains, FLOOR.bits(), Duty::ONE, Action::Direct);
    let mut parts = COOL_PARTS;
    parts.settings = settings;
    (parts.guards.hunting, parts.guards.rate) = (None, None);
    let config = StationConfig::constant(parts);
    let mut station = Station::<Pid<4>, FanDrive, U7, 8>::new(&config);
    let (mut started, mut taken_over, mut reseeded) = (0, 0, 0);
    for step in 0..200 {
        // now and then a lost reading, now and then a fault that is confirmed
        let lost = step % 40 == 20 || (step % 40 > 25 && step % 40 < 30);
        let word =
            FixedI16::<U7>::from_bits(40 * 128 + step * 37 % 61 - if step < 5 { 2_000 } else { 0 });
        let before = station.next;
        let terms = station.terms(word);
        station.output_tick();
        station.pulses(0, 20);
        let _ = station.step(if lost { Err(1) } else { Ok(word) }, 4);
        if station.running() && !lost {
            assert_eq!(
                terms.demand,
                station.demand().bits(),
                "step {step} {before:?}"
            );
            match before {
                Next::Start => {
                    assert_eq!(terms.d, 0, "a derivative that has yet to start");
                    started += 1;
                }
                Next::TakeOver => taken_over += 1,
                Next::Reseed => reseeded += 1,
                Next::Continue => {}
            }
        }
    }
    assert_eq!((started, taken_over, reseeded), (1, 5, 5));
}

#[test]
fn refusals_name_what_is_wrong() {
    let refused = |parts| StationConfig::<8, FanDrive>::new(parts).err();
    let mut parts = COOL_PARTS;
    parts.settings = Settings::<i16, 8>::constant(GAINS, 0, Duty::ONE, Action::Reverse);
    assert_eq!(refused(parts), Some(StationError::DriveAgainstAction));
    let mut parts = COOL_PARTS;
    parts.set_point = FixedI16::<U7>::lit("60");
    assert_eq!(refused(parts), Some(StationError::SetPointAtTrip));
    let mut parts = COOL_PARTS;
    parts.set_point = FixedI16::<U7>::lit("-128.5");
    assert_eq!(refused(parts), Some(StationError::SetPointOutsideDomain));
}

/// Every sequence of six events out of eight, from power-on and from running: whenever an alarm
/// that asks for it is on, the output is the safe state's; whenever none is, the demand is within
/// the law's limits; nothing panics or wraps (overflow checks are on).
#[test]
fn every_short_sequence_of_events_keeps_the_promises() {
    let mut cases = 0_u64;
    let warm = running();
    for start in [false, true] {
        for sequence in 0..8_u32.pow(6) {
            let mut station = if start {
                Cooling::new(&COOL)
            } else {
                warm.clone()
            };
            let mut word = sequence;
            for _ in 0..6 {
                let reading = match word % 8 {
                    0 => celsius(40.0),
                    1 => celsius(41.0),
                    2 => celsius(61.0),
                    3 => Ok(FixedI16::MIN),
                    4 => BROKEN,
                    5 => {
                        station.pulses(0, 0);
                        celsius(40.0)
                    }
                    6 => {
                        for _ in 0..7 {
                            station.output_tick();
                        }
                        celsius(40.5)
                    }
                    _ => {
                        station.reset();
                        celsius(39.5)
                    }
                };
                let elapsed = if word % 8 == 6 { 7 } else { 1 };
                word /= 8;
                let _ = station.step(reading, elapsed);
                let code = station.output_tick();
                if station.alarms().unsafe_to_run() {
                    assert_eq!(code, [1_000], "{sequence}: {:?}", station.alarms());
                    assert_eq!(station.demand(), Duty::FULL);
                } else {
                    assert!(station.demand() >= FLOOR);
                    assert!(code[0] >= COOL.drive.timer.floor_code());
                }
            }
            cases += 1;
        }
    }
    assert_eq!(cases, 2 * 262_144);
}
