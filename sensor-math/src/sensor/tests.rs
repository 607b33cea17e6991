extern crate std;
use super::{Sensor, SensorError};
use crate::adc::Adc;
use crate::curve::{Beta, Curve, Platinum};
use crate::divider::{Divider, Side};
use crate::fault::FaultCode;
use std::string::ToString;

const NTC: Curve = Curve::Beta(Beta::new(10_000.0, 3435.0));
const PT: Curve = Curve::Platinum(Platinum::new(1_000.0));

const SENSOR: Sensor = Sensor {
    adc: Adc::ratiometric(10),
    divider: Divider::new(Side::Supply, 10_000.0),
    curve: NTC,
};

fn sensors() -> [Sensor; 8] {
    let with = |bits, side, curve, resistor| Sensor {
        adc: Adc::ratiometric(bits),
        divider: Divider::new(side, resistor),
        curve,
    };
    [
        SENSOR,
        with(8, Side::Ground, NTC, 10_000.0),
        with(12, Side::Supply, PT, 1_000.0),
        with(10, Side::Ground, PT, 2_200.0),
        Sensor {
            adc: Adc::ratiometric(10).with_last_code_as_full_scale(),
            ..SENSOR
        },
        Sensor {
            adc: Adc::ratiometric(12).with_fixed_reference(3.0, 3.3),
            ..SENSOR
        },
        Sensor {
            divider: SENSOR.divider.with_series(470.0),
            ..SENSOR
        },
        Sensor {
            divider: SENSOR.divider.with_parallel(100_000.0),
            ..SENSOR
        },
    ]
}

/// 25 degC of a 10 kohm part over 10 kohm is half the supply.
#[test]
fn half_of_the_supply_at_25_degrees() {
    assert_eq!(
        (SENSOR.position_at(25.0), SENSOR.code_at(25.0)),
        (512.0, 512)
    );
    assert!((SENSOR.celsius_at_position(512.0) - 25.0).abs() < 1e-9);
    assert_eq!(
        SENSOR.celsius_at_code(511),
        SENSOR.celsius_at_position(511.5)
    );
    // 36.5 Mohm and 40.2 ohm: 0.28 and 1019.9 code steps
    assert_eq!((SENSOR.code_at(-99.0), SENSOR.code_at(299.0)), (0, 1019));
}

/// The codes of a range are those, and only those, whose middle lies in it, found by walking every
/// code; and they rise or fall with the temperature as stated.
#[test]
fn codes_are_those_whose_middle_is_in_the_range() {
    let mut ranges = 0;
    for sensor in sensors() {
        for (low, high) in [(-20.0, 90.0), (0.0, 60.0), (3.3, 77.7)] {
            let codes = sensor.codes(low, high).expect("codes");
            let within: std::vec::Vec<u16> = (0..=sensor.adc.last_code())
                .filter(|code| (low..=high).contains(&sensor.celsius_at_code(*code)))
                .collect();
            let (first, last) = (within[0], within[within.len() - 1]);
            assert_eq!((codes.first, codes.last), (first, last), "{sensor:?}");
            assert_eq!(codes.count() as usize, within.len());
            let rising = sensor.celsius_at_code(last) > sensor.celsius_at_code(first);
            assert_eq!((codes.rising, sensor.is_rising()), (rising, rising));
            assert_eq!(sensor.codes_or_panic(low, high), codes);
            ranges += 1;
        }
    }
    assert_eq!(ranges, 24);
}

/// A range that reaches just over codes' middles includes them, one that stops just short does not.
#[test]
fn a_middle_just_inside_counts_and_just_outside_does_not() {
    let at = |code: u16| SENSOR.celsius_at_code(code);
    let codes = SENSOR.codes(at(300) - 1e-9, at(700) + 1e-9).expect("codes");
    assert_eq!((codes.first, codes.last), (300, 700));
    let codes = SENSOR.codes(at(300) + 1e-9, at(700) - 1e-9).expect("codes");
    assert_eq!((codes.first, codes.last), (301, 699));
}

#[test]
fn what_cannot_be_measured_is_named() {
    let refuses = |sensor: Sensor, low: f64, high: f64| sensor.codes(low, high).unwrap_err();
    let with_adc = |adc| Sensor { adc, ..SENSOR };
    assert_eq!(
        refuses(with_adc(Adc::ratiometric(17)), 0.0, 60.0),
        SensorError::Adc
    );
    let resistor = |ohm| Sensor {
        divider: Divider::new(Side::Supply, ohm),
        ..SENSOR
    };
    assert_eq!(refuses(resistor(0.0), 0.0, 60.0), SensorError::Divider);
    for (low, high) in [
        (60.0, 60.0),
        (61.0, 60.0),
        (f64::NAN, 60.0),
        (0.0, f64::NAN),
    ] {
        assert_eq!(
            refuses(SENSOR, low, high),
            SensorError::EmptyRange,
            "{low} {high}"
        );
    }
    let outside = SensorError::OutsideCurve {
        lowest_celsius: -100.0,
        highest_celsius: 300.0,
    };
    assert_eq!(refuses(SENSOR, -100.5, 60.0), outside);
    assert_eq!(refuses(SENSOR, 0.0, 300.5), outside);
    let hot = Sensor {
        adc: Adc::ratiometric(12),
        divider: Divider::new(Side::Ground, 1_000.0),
        curve: PT,
    };
    assert!(
        hot.codes(-200.0, 850.0).is_ok(),
        "the ends of a curve are its own"
    );
    let bad = Sensor {
        curve: Curve::Beta(Beta::new(10_000.0, -3435.0)),
        ..SENSOR
    };
    assert_eq!(refuses(bad, 0.0, 60.0), SensorError::Curve);
    // a resistor a thousand times too large: the whole range within a few codes
    assert_eq!(refuses(resistor(1e7), 0.0, 60.0), SensorError::Unseen);
}

/// A range may reach from the second code to the last but one, and no further.
#[test]
fn the_first_and_the_last_code_are_no_readings() {
    let at = |position: f64| SENSOR.celsius_at_position(position);
    for (position, first) in [
        (0.7, Ok(1)),
        (1.4, Ok(1)),
        (0.3, Err(SensorError::Unseen)),
        (1.6, Ok(2)),
    ] {
        let sensor = Sensor {
            divider: Divider::new(Side::Supply, 1_000.0),
            ..SENSOR
        };
        let got = sensor.codes(sensor.celsius_at_position(position), 60.0);
        assert_eq!(
            got.map(|codes| codes.first),
            first,
            "from position {position}"
        );
    }
    for (position, last) in [
        (1022.7, Ok(1022)),
        (1023.4, Ok(1022)),
        (1023.7, Err(SensorError::Unseen)),
        (1022.3, Ok(1021)),
    ] {
        let sensor = Sensor {
            divider: Divider::new(Side::Supply, 200_000.0),
            ..SENSOR
        };
        let got = sensor.codes(60.0, sensor.celsius_at_position(position));
        assert_eq!(got.map(|codes| codes.last), last, "to position {position}");
    }
    // eight codes are enough, seven are not
    assert!(
        SENSOR
            .codes(at(500.2), at(507.8))
            .is_ok_and(|codes| codes.count() == 8)
    );
    assert_eq!(SENSOR.codes(at(500.2), at(507.3)), Err(SensorError::Unseen));
}

/// Each threshold lies half-way, in codes, between the range's end and what the fault reads as.
#[test]
fn thresholds_lie_half_way_to_the_faults_own_codes() {
    let mut cases = 0;
    for sensor in sensors() {
        for (low, high) in [(-20.0, 90.0), (0.0, 60.0)] {
            let codes = sensor.codes(low, high).expect("codes");
            let limits = sensor.limits(low, high).expect("limits");
            assert_eq!(sensor.limits_or_panic(low, high), limits);
            assert_eq!((limits.first(), limits.last()), (codes.first, codes.last));
            let reads = |ohm| f64::from(sensor.adc.code_at(sensor.divider.ratio_at(ohm)));
            for (threshold, fault, code) in [
                (limits.open(), FaultCode::Open, reads(f64::INFINITY)),
                (limits.short(), FaultCode::Short, reads(0.0)),
            ] {
                let end = if code < f64::from(codes.first) {
                    codes.first
                } else {
                    codes.last
                };
                let half_way = (f64::from(end) + code) / 2.0;
                assert!(
                    (f64::from(threshold) - half_way).abs() <= 0.5,
                    "{sensor:?} {fault:?}"
                );
                // in doubt nearer to the fault: a temperature just outside is no broken wire
                assert!((f64::from(threshold) - code).abs() <= (half_way - code).abs());
                assert_eq!(limits.fault(code as u16), Some(fault));
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 8 * 2 * 2);
}

/// Two codes between the range and a fault's own are needed, on either side of either divider.
#[test]
fn a_fault_too_near_to_the_range_is_named() {
    for side in [Side::Supply, Side::Ground] {
        // what a broken wire reads as is at the cold end, a short at the hot one
        let cold = Sensor {
            divider: Divider::new(side, 1_000.0),
            ..SENSOR
        };
        let hot = Sensor {
            divider: Divider::new(side, 200_000.0),
            ..SENSOR
        };
        let mirrored = |position: f64| match side {
            Side::Supply => position,
            Side::Ground => 1024.0 - position,
        };
        let from = |position: f64| {
            let celsius = cold.celsius_at_position(mirrored(position));
            cold.limits(celsius, 60.0).err()
        };
        let to = |position: f64| {
            let celsius = hot.celsius_at_position(mirrored(position));
            hot.limits(60.0, celsius).err()
        };
        assert_eq!(from(2.2), None, "{side:?}: from code 2, broken wire 0");
        assert_eq!(
            from(1.2),
            Some(SensorError::OpenUnseen),
            "{side:?}: from code 1"
        );
        assert_eq!(to(1021.8), None, "{side:?}: to code 1021, short 1023");
        assert_eq!(
            to(1022.8),
            Some(SensorError::ShortUnseen),
            "{side:?}: to code 1022"
        );
        assert_eq!(from(0.2), Some(SensorError::Unseen), "{side:?}");
    }
    assert_eq!(SENSOR.limits(60.0, 0.0), Err(SensorError::EmptyRange));
}

/// A sum of the last code and the margin would pass 16 bits: the short reads as the very next code.
#[test]
fn a_range_that_ends_at_the_last_code_but_one_is_refused_at_16_bits() {
    let sensor = Sensor {
        adc: Adc::ratiometric(16),
        divider: Divider::new(Side::Supply, 1e7),
        curve: NTC,
    };
    let high = sensor.celsius_at_position(65_534.7);
    assert_eq!(sensor.codes(60.0, high).unwrap().last, 65_534);
    assert_eq!(sensor.limits(60.0, high), Err(SensorError::ShortUnseen));
}

#[test]
fn errors_say_what_is_needed() {
    for (error, word) in [
        (SensorError::Adc, "8 to 16 bits"),
        (SensorError::Divider, "above 0 ohm"),
        (SensorError::EmptyRange, "below its upper end"),
        (
            SensorError::OutsideCurve {
                lowest_celsius: -100.0,
                highest_celsius: 300.0,
            },
            "-100 to 300 degC",
        ),
        (SensorError::Curve, "one way only"),
        (SensorError::Unseen, "at least 8 codes"),
        (SensorError::OpenUnseen, "broken sensor wire"),
        (SensorError::ShortUnseen, "a short across"),
    ] {
        assert!(error.to_string().contains(word), "{error}");
    }
}
