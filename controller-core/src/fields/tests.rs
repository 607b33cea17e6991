//! The sum is of exactly these words, in this order.

use super::{Field, Fields, Value, Walk};
use crate::drive::dither::{DitherConfig, Polarity};
use crate::drive::fan::{Airflow, FanConfig, FanParts, Slew, SpinUp, Stop};
use crate::drive::fans::FansConfig;
use crate::drive::output::{FanDriveConfig, PwmHeaterConfig};
use crate::drive::tachometer::RotationConfig;
use crate::drive::time_proportional::{TimeProportionalConfig, TimeProportionalParts, Unit};
use crate::drive::wiring::Wiring;
use crate::duty::Duty;
use crate::gain::Mantissas;
use crate::guard::GuardsConfig;
use crate::guard::effect::EffectConfig;
use crate::guard::hunting::{HuntingConfig, OnHunting};
use crate::guard::rate::RateConfig;
use crate::guard::sensor::SensorConfig;
use crate::guard::stale::StaleConfig;
use crate::guard::stuck::StuckConfig;
use crate::guard::trip::TripConfig;
use crate::law::{Action, Settings};
use crate::station::Checksum;
use std::vec::Vec;

fn sum_of(words: &[u16]) -> u16 {
    let sum = Checksum::new();
    words.iter().fold(sum, |sum, word| sum.word(*word)).value()
}

fn are_words<W: Fields>(config: &W, words: &[u16]) {
    assert_eq!(config.checksum(), sum_of(words));
}

#[test]
fn the_words_of_the_law_and_of_every_guard() {
    let gains = Mantissas {
        kp: 1_300,
        ki: 65,
        kd: 40,
    };
    let settings = |action| Settings::<i16, 8>::constant(gains, 100, 32_000, action);
    are_words(
        &settings(Action::Direct),
        &[1_300, 65, 40, 100, 32_000, 1, 8],
    );
    are_words(
        &settings(Action::Reverse),
        &[1_300, 65, 40, 100, 32_000, 2, 8],
    );
    are_words(&SensorConfig::constant(3, 7), &[3, 7]);
    are_words(&RateConfig::constant(64), &[64]);
    are_words(&StaleConfig::constant(500), &[500]);
    are_words(
        &StuckConfig::constant(90, Duty::constant(3_000)),
        &[90, 3_000],
    );
    are_words(&TripConfig::constant(7_680, 640, 5), &[7_680, 640, 5]);
    are_words(
        &HuntingConfig::constant(0x0002_0003, 200, 4),
        &[3, 2, 200, 4],
    );
    let effect = EffectConfig::constant(Duty::constant(30_000), 60, 32, 128);
    are_words(&effect, &[30_000, 60, 32, 128]);
}

#[test]
fn the_words_of_every_drive() {
    let timer = |polarity| DitherConfig::constant(100, Duty::fraction(0.3), polarity);
    are_words(&timer(Polarity::ActiveHigh), &[100, 30, 0]);
    are_words(&timer(Polarity::ActiveLow), &[100, 30, 1]);
    let heater = PwmHeaterConfig {
        timer: timer(Polarity::ActiveLow),
    };
    are_words(&heater, &[100, 30, 1]);
    let watch = RotationConfig::constant(5, 2, 9);
    are_words(&watch, &[5, 2, 9]);
    for (unit, word) in [(Unit::Tick, 0), (Unit::WholeCycle, 1)] {
        let parts = TimeProportionalParts {
            window: 100,
            min_on: 10,
            min_off: 20,
            unit,
        };
        are_words(
            &TimeProportionalConfig::constant(parts),
            &[100, 10, 20, word],
        );
    }
    let knots = [
        0, 9_830, 14_000, 17_500, 17_500, 23_300, 26_200, 29_400, 32_767,
    ];
    let curve = Airflow::constant(knots);
    are_words(&curve, &knots.map(|knot| knot as u16));
    let always = FanParts {
        floor: Duty::constant(6_000),
        spin_up: SpinUp {
            level: Duty::constant(20_000),
            ticks: 3,
        },
        stop: Stop::Never,
        airflow: None,
        slew: Slew {
            rise: 2_000,
            fall: 500,
        },
    };
    let first = [6_000, 20_000, 3, 2_000, 500, 0, 0];
    are_words(&FanConfig::constant(always), &first);
    let (stop, start) = (Duty::constant(1_000), Duty::constant(4_000));
    let second = FanParts {
        stop: Stop::Below { stop, start },
        airflow: Some(curve),
        ..always
    };
    let second_words = [
        6_000, 20_000, 3, 2_000, 500, 1, 1_000, 4_000, 1, 0, 9_830, 14_000, 17_500, 17_500, 23_300,
        26_200, 29_400, 32_767,
    ];
    are_words(&FanConfig::constant(second), &second_words);
    let drive = FanDriveConfig::<2> {
        fans: FansConfig {
            fans: [FanConfig::constant(always), FanConfig::constant(second)],
            stagger: 77,
        },
        timer: timer(Polarity::ActiveHigh),
        tachometer: Some(watch),
        wiring: Wiring::ThreeWireChopped,
    };
    let shared = [77, 1, 100, 30, 0, 1, 5, 2, 9];
    are_words(&drive, &[&first[..], &second_words, &shared].concat());
    let parts = FanDriveConfig::<2>::PARTS;
    assert_eq!(parts, 3, "one for each fan, one for what they share");
}

#[test]
fn the_words_of_all_guards_and_whether_each_is_there() {
    let with = GuardsConfig {
        sensor: SensorConfig::constant(3, 7),
        stale: StaleConfig::constant(500),
        trip: TripConfig::constant(7_680, 640, 5),
        rate: Some(RateConfig::constant(64)),
        stuck: Some(StuckConfig::constant(90, Duty::constant(3_000))),
        effect: Some(EffectConfig::constant(Duty::constant(30_000), 60, 32, 128)),
        hunting: Some(HuntingConfig::constant(0x0002_0003, 200, 4)),
        on_hunting: OnHunting::HalveGains,
    };
    let first = [3, 7, 500, 7_680, 640, 5];
    let rest = [
        1, 64, 1, 90, 3_000, 1, 30_000, 60, 32, 128, 1, 3, 2, 200, 4, 1,
    ];
    are_words(&with, &[&first[..], &rest].concat());
    let without = GuardsConfig {
        rate: None,
        stuck: None,
        effect: None,
        hunting: None,
        on_hunting: OnHunting::Report,
        ..with
    };
    are_words(&without, &[&first[..], &[0; 5]].concat());
}

/// Every label with its groups' labels before it, and its value.
struct List {
    names: Vec<&'static str>,
    found: Vec<(std::string::String, i64)>,
}

impl Walk for List {
    fn value(&mut self, field: &Field, value: Value) {
        let names = self.names.iter().chain([&field.label]);
        let name: Vec<&str> = names.copied().filter(|name| !name.is_empty()).collect();
        assert!(!field.meaning.is_empty() || name.last().is_some());
        self.found.push((name.join("_"), value.number()));
    }
    fn parameter(&mut self, field: &Field, value: Value) {
        self.value(field, value);
    }
    fn part<T: Fields>(&mut self, field: &Field, group: &T, part: u8) {
        self.names.push(field.label);
        group.walk_part(part, self);
        self.names.pop();
    }
    fn option<T: Fields>(&mut self, field: &Field, group: Option<&T>) {
        if let Some(group) = group {
            self.group(field, group);
        }
    }
}

#[test]
fn two_fans_are_told_apart_by_their_number_and_one_has_none() {
    let fan = FanConfig::constant(FanParts {
        floor: Duty::constant(6_000),
        spin_up: SpinUp {
            level: Duty::constant(20_000),
            ticks: 3,
        },
        stop: Stop::Never,
        airflow: None,
        slew: Slew::NONE,
    });
    let names = |config: &dyn Fn(&mut List)| {
        let mut list = List {
            names: Vec::new(),
            found: Vec::new(),
        };
        config(&mut list);
        list.found
    };
    let one = names(&|list| {
        FansConfig {
            fans: [fan],
            stagger: 5,
        }
        .walk(list)
    });
    let two = names(&|list| {
        FansConfig {
            fans: [fan; 2],
            stagger: 5,
        }
        .walk(list)
    });
    assert_eq!(one[0], ("floor".into(), 6_000));
    assert_eq!(one[1], ("spin_up".into(), 20_000));
    assert_eq!(one.last().unwrap(), &("stagger_ticks".into(), 5));
    assert_eq!(two[0].0, "1_floor");
    assert_eq!(two.len(), 2 * one.len() - 1);
}
