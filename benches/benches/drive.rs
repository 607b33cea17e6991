//! What drives, guards and the station cost on this machine; every figure's result is checked first.
//!
//! Figures of the targets, which are what counts, are in `targets.csv` beside this package.

use controller_core::drive::dither::{Dither, DitherConfig, Polarity};
use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
use controller_core::drive::fans::FansConfig;
use controller_core::drive::output::{FanDrive, FanDriveConfig};
use controller_core::drive::tachometer::PulsePeriod;
use controller_core::drive::wiring::Wiring;
use controller_core::duty::Duty;
use controller_core::fields::Fields;
use controller_core::gain::Mantissas;
use controller_core::guard::GuardsConfig;
use controller_core::guard::effect::EffectConfig;
use controller_core::guard::hunting::{HuntingConfig, OnHunting};
use controller_core::guard::rate::RateConfig;
use controller_core::guard::sensor::SensorConfig;
use controller_core::guard::stale::StaleConfig;
use controller_core::guard::stuck::StuckConfig;
use controller_core::guard::trip::TripConfig;
use controller_core::law::{Action, Settings};
use controller_core::station::{Pi, Station, StationConfig, StationParts};
use criterion::{Criterion, criterion_group, criterion_main};
use fixed::FixedI16;
use fixed::types::extra::U7;
use std::hint::black_box;

const FLOOR: Duty = Duty::fraction(0.2);

const STATION: StationConfig<8, FanDrive> = StationConfig::constant(StationParts {
    settings: Settings::<i16, 8>::constant(
        Mantissas {
            kp: 5_898,
            ki: 2_097,
            kd: 0,
        },
        FLOOR.bits(),
        Duty::ONE,
        Action::Direct,
    ),
    set_point: FixedI16::<U7>::lit("38"),
    drive: FanDriveConfig {
        fans: FansConfig {
            fans: [FanConfig::constant(FanParts {
                floor: FLOOR,
                spin_up: SpinUp {
                    level: Duty::fraction(0.6),
                    ticks: 200,
                },
                stop: Stop::Never,
                airflow: None,
                slew: Slew {
                    rise: 819,
                    fall: 819,
                },
            })],
            stagger: 0,
        },
        timer: DitherConfig::constant(320, FLOOR, Polarity::ActiveHigh),
        tachometer: None,
        wiring: Wiring::FourWire,
    },
    guards: GuardsConfig {
        sensor: SensorConfig::constant(4, 8),
        stale: StaleConfig::constant(100),
        trip: TripConfig::constant(46 * 128, 2 * 128, 2),
        rate: Some(RateConfig::constant(256)),
        stuck: Some(StuckConfig::constant(200, Duty::fraction(0.1))),
        effect: Some(EffectConfig::constant(Duty::fraction(0.95), 3_600, 51, 256)),
        hunting: Some(HuntingConfig::constant(3_000, 572, 10)),
        on_hunting: OnHunting::Report,
    },
});

fn duty_to_compare(c: &mut Criterion) {
    // the same numbers as the plain quotient
    for bits in (0..=Duty::ONE).step_by(7) {
        let quotient = (u64::from(bits as u16) * 640 * 2 + 32_767) / (2 * 32_767);
        assert_eq!(u64::from(Duty::constant(bits).to_compare(640)), quotient);
    }
    c.bench_function("duty to compare value", |b| {
        let mut bits = 0_i16;
        b.iter(|| {
            bits = (bits + 97) & i16::MAX;
            Duty::saturating(black_box(bits)).to_compare(black_box(640))
        });
    });
}

fn dither(c: &mut Criterion) {
    let config = DitherConfig::constant(320, FLOOR, Polarity::ActiveHigh);
    let mut dither = Dither::new();
    dither.set(&config, Duty::fraction(0.43));
    let sum: u64 = (0..Duty::ONE)
        .map(|_| u64::from(dither.tick(&config)))
        .sum();
    assert_eq!(
        sum,
        Duty::fraction(0.43).bits() as u64 * 320,
        "exact over a cycle"
    );
    c.bench_function("dither tick", |b| {
        b.iter(|| black_box(&mut dither).tick(black_box(&config)))
    });
    c.bench_function("dither set and tick", |b| {
        let mut bits = 8_000_i16;
        b.iter(|| {
            bits = 8_000 + (bits + 131) % 20_000;
            dither.set(black_box(&config), Duty::saturating(bits));
            dither.tick(&config)
        });
    });
}

fn tachometer(c: &mut Criterion) {
    let timer = PulsePeriod::constant(2, 100_000);
    assert_eq!(timer.rpm(1_000), 3_000);
    c.bench_function("period to revolutions a minute, without a division", |b| {
        let mut clocks = 500_u16;
        b.iter(|| {
            clocks = 500 + (clocks + 37) % 3_000;
            black_box(timer).rpm(black_box(clocks))
        });
    });
}

fn station(c: &mut Criterion) {
    let config = STATION.with_checksum(STATION.checksum());
    let mut station: Station<Pi, FanDrive, U7, 8> = Station::new(&config);
    for sample in 0..2_000_i16 {
        station.output_tick();
        let alive = station.step::<u8>(Ok(FixedI16::from_bits(38 * 128 + sample % 5)), 50);
        assert!(alive.is_some() && !station.alarms().unsafe_to_run());
    }
    c.bench_function("station step, all guards and self-test", |b| {
        let mut word = 0_i16;
        b.iter(|| {
            word = (word + 1) % 5;
            black_box(station.output_tick());
            station
                .step::<u8>(Ok(FixedI16::from_bits(black_box(38 * 128 + word))), 50)
                .is_some()
        });
    });
    c.bench_function("station output tick", |b| {
        b.iter(|| {
            // overdue after a while and so in the safe state, which costs the same
            black_box(&mut station).output_tick()
        });
    });
}

criterion_group!(drive, duty_to_compare, dither, tachometer, station);
criterion_main!(drive);
