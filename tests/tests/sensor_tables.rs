//! Every code of every table, and tables of random designs.

use fixed::types::extra::U7;
use host_harness::design::{self, Encoding};
use host_harness::tablegen::{Layout, Request, Table, TableError, asymptotic_segments, generate};
use proptest::prelude::*;
use sensor_math::adc::Adc;
use sensor_math::curve::{Beta, Curve, Platinum, SteinhartHart};
use sensor_math::divider::{Divider, Side};
use sensor_math::fault::FaultCode;
use sensor_math::table::{Lookup, Zones};
use sensor_math::{Sensor, SensorError};
use std::path::Path;

const ENCODINGS: [Encoding; 4] = [
    Encoding::Uniform,
    Encoding::Zones,
    Encoding::Packed,
    Encoding::Smallest,
];

/// 10 bits, 10 kohm over 10 kohm, Beta 3435.
const SENSOR: Sensor = Sensor {
    adc: Adc::ratiometric(10),
    divider: Divider::new(Side::Supply, 10_000.0),
    curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
};

fn request(sensor: Sensor, low_celsius: f64, high_celsius: f64, encoding: Encoding) -> Request {
    Request {
        sensor,
        low_celsius,
        high_celsius,
        frac_bits: 7,
        error_celsius: 0.1,
        encoding,
        jumps: 0,
    }
}

/// Looks up every code of the converter: within the wanted error where the range is, monotone over the
/// range, and no other value than that of the range's nearer knot outside. Returns the codes walked.
fn walk(table: &Table) -> u32 {
    let sensor = &table.request.sensor;
    let unit = 1.0 / f64::from(1u32 << table.request.frac_bits);
    let mut before: Option<i16> = None;
    let mut walked = 0;
    for code in 0..=sensor.adc.last_code() {
        let word = table.layout.lookup(code);
        if (table.codes.first..=table.codes.last).contains(&code) {
            let error = f64::from(word) * unit - sensor.celsius_at_code(code);
            assert!(
                error.abs() <= table.error_celsius_max
                    && table.error_celsius_max <= table.request.error_celsius,
                "code {code}: {error}"
            );
            if let Some(before) = before {
                let ordered = if table.codes.rising {
                    before <= word
                } else {
                    before >= word
                };
                assert!(ordered, "code {code}: {before} then {word}");
            }
            before = Some(word);
        }
        walked += 1;
    }
    walked
}

/// The four designs by which the generator is measured, with the bytes that a prototype needed.
#[test]
fn fewest_bytes_of_the_four_measures() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-harness/designs/tables");
    for (name, most, now) in [
        ("beta-0-85", 25, 20),
        ("beta-m10-100", 31, 26),
        ("beta-m40-125", 49, 40),
        ("steinhart-m10-100", 36, 28),
    ] {
        let sensing = design::load_sensing(&folder.join(format!("{name}.toml"))).expect(name);
        let table = generate(&Request::of(sensing.sensor, &sensing.table)).expect(name);
        assert_eq!(walk(&table), 1024, "{name}");
        // The figure in the documentation, and the one it must not exceed.
        assert_eq!(table.layout.bytes(), now, "{name}");
        assert!(now <= most, "{name}");
        assert!(
            table.bound_ratio() <= 1.55,
            "{name}: {}",
            table.bound_ratio()
        );
        let free = table.free_width_bound_ratio().expect("a count");
        assert!(free <= 1.15, "{name}: {free}");
    }
    let zones = generate(&request(SENSOR, -10.0, 100.0, Encoding::Zones)).expect("zones");
    assert_eq!(walk(&zones), 1024);
    assert!(zones.layout.bytes() <= 50, "{}", zones.layout.bytes());
}

/// Both sides, three curves, two widths, both full scales, every encoding and jump: every code.
#[test]
fn every_code_of_every_encoding() {
    let curves = [
        (
            Curve::Beta(Beta::new(10_000.0, 3435.0)),
            -20.0,
            90.0,
            10_000.0,
        ),
        (
            Curve::SteinhartHart(SteinhartHart::new(1.129148e-3, 2.34125e-4, 8.76741e-8)),
            0.0,
            100.0,
            4_700.0,
        ),
        (
            Curve::Platinum(Platinum::new(1000.0)),
            -40.0,
            120.0,
            1_000.0,
        ),
    ];
    let (mut tables, mut codes) = (0, 0);
    for (curve, low, high, resistor) in curves {
        for side in [Side::Supply, Side::Ground] {
            let wide = Adc::ratiometric(10).with_last_code_as_full_scale();
            for (adc, encodings) in [
                (Adc::ratiometric(8), &ENCODINGS[..3]),
                (wide, &ENCODINGS[1..3]),
            ] {
                for &encoding in encodings {
                    let sensor = Sensor {
                        adc,
                        divider: Divider::new(side, resistor),
                        curve,
                    };
                    let mut request = request(sensor, low, high, encoding);
                    request.error_celsius = 0.15;
                    request.jumps = tables % 4;
                    codes += walk(&generate(&request).expect("a table"));
                    tables += 1;
                }
            }
        }
    }
    assert_eq!((tables, codes), (30, 18 * 256 + 12 * 1024));
}

/// Twelve bits.
#[test]
fn every_code_at_twelve_bits() {
    let sensor = Sensor {
        adc: Adc::ratiometric(12),
        ..SENSOR
    };
    let table = generate(&request(sensor, -10.0, 100.0, Encoding::Smallest)).expect("a table");
    assert_eq!(walk(&table), 4096);
    assert!(table.layout.bytes() <= 31, "{}", table.layout.bytes());
}

/// What a lookup gives is what the text says, type by type: the emitted constructors take the generated
/// integers, and the typed lookup agrees with the one that the proof walked.
#[test]
fn the_typed_zones_lookup_is_the_proven_one() {
    let table = generate(&request(SENSOR, -10.0, 100.0, Encoding::Zones)).expect("zones");
    let Layout::Zones {
        codes,
        shifts,
        knots,
    } = &table.layout
    else {
        panic!("zones")
    };
    assert_eq!(*shifts, [6, 5, 4]);
    let typed = Zones::<&[i16], 6, 5, 4, U7>::from_slice(codes.0, codes.1, codes.2, codes.3, knots);
    let mut same = 0;
    for code in 0..=u16::MAX {
        assert_eq!(typed.lookup(code), table.layout.lookup(code), "code {code}");
        same += 1;
    }
    assert_eq!(same, 65_536);
}

/// The bound for a curve whose integral is known: `T = c x^2` has `f'' = 2c`, so the bound is
/// `n sqrt(2c) / (4 sqrt(e))` over `n` codes. Points are the only curve of any shape; a nearly linear
/// divider turns the bound to nearly nothing, which a straight table must confirm.
#[test]
fn bound_scales_with_the_root_of_the_error() {
    let codes = SENSOR.codes(-10.0, 100.0).expect("codes");
    let at = |error| asymptotic_segments(&SENSOR, codes, error);
    assert!((at(0.025) / at(0.1) - 2.0).abs() < 1e-12);
    // DESIGN figure of the prototype, 10.97, by another quadrature: within a percent.
    assert!((at(0.1) / 10.97 - 1.0).abs() < 0.01, "{}", at(0.1));
}

#[test]
fn refusals_say_what_is_wrong() {
    let base = request(SENSOR, -10.0, 100.0, Encoding::Smallest);
    let refused = |change: &dyn Fn(&mut Request)| {
        let mut request = base;
        change(&mut request);
        generate(&request).expect_err("refused")
    };
    for error in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            refused(&|r| r.error_celsius = error),
            TableError::NotAnError(_)
        ));
    }
    assert!(matches!(
        refused(&|r| r.error_celsius = 0.003),
        TableError::TooFine { .. }
    ));
    assert!(matches!(
        refused(&|r| r.frac_bits = 0),
        TableError::FracBits(0)
    ));
    assert!(matches!(refused(&|r| r.jumps = 4), TableError::Jumps(4)));
    assert!(matches!(
        refused(&|r| r.high_celsius = 260.0),
        TableError::Sensor(SensorError::Unseen | SensorError::ShortUnseen)
            | TableError::RangeBeyondWord { .. }
    ));
    assert!(matches!(
        refused(&|r| r.low_celsius = 100.0),
        TableError::Sensor(SensorError::EmptyRange)
    ));
    assert!(matches!(
        refused(&|r| r.low_celsius = -150.0),
        TableError::Sensor(SensorError::OutsideCurve { .. })
    ));
    // A resistor a thousand times too large: the whole range within a few codes.
    assert!(matches!(
        refused(&|r| r.sensor.divider.resistor_ohm = 1e7),
        TableError::Sensor(SensorError::Unseen)
    ));
    assert!(matches!(
        refused(&|r| r.sensor.divider.resistor_ohm = -1.0),
        TableError::Sensor(SensorError::Divider)
    ));
    // At -90 degC the sensor has 13 Mohm; behind 10 kohm in parallel a broken wire looks the same.
    assert!(matches!(
        refused(&|r| {
            r.low_celsius = -90.0;
            r.sensor.divider = r.sensor.divider.with_parallel(10_000.0);
        }),
        TableError::Sensor(SensorError::OpenUnseen)
    ));
    // At a word's rounding over a wide range, 255 segments are too few.
    let packed = refused(&|r| {
        r.encoding = Encoding::Packed;
        r.low_celsius = -40.0;
        r.high_celsius = 125.0;
        r.frac_bits = 8;
        r.error_celsius = 0.0021;
    });
    assert!(
        matches!(packed, TableError::DoesNotExist(Encoding::Packed)),
        "{packed}"
    );
}

/// Open and short thresholds over a sweep of designs: never within the valid range, on opposite sides,
/// and a broken wire and a short are always seen as such.
#[test]
fn thresholds_never_overlap_the_range() {
    let (mut seen, mut refused) = (0, 0);
    for bits in 8..=16 {
        for side in [Side::Supply, Side::Ground] {
            for resistor in [470.0, 2_200.0, 10_000.0, 47_000.0] {
                for (series, parallel) in [
                    (0.0, None),
                    (220.0, None),
                    (0.0, Some(100_000.0)),
                    (1_000.0, Some(10_000.0)),
                ] {
                    for (low, high) in [(-40.0, 125.0), (-10.0, 100.0), (0.0, 60.0), (30.0, 45.0)] {
                        for last_code in [false, true] {
                            let mut adc = Adc::ratiometric(bits);
                            if last_code {
                                adc = adc.with_last_code_as_full_scale();
                            }
                            let mut divider = Divider::new(side, resistor).with_series(series);
                            divider.parallel_ohm = parallel;
                            let sensor = Sensor {
                                adc,
                                divider,
                                ..SENSOR
                            };
                            let Ok(limits) = sensor.limits(low, high) else {
                                refused += 1;
                                continue;
                            };
                            let codes = sensor.codes(low, high).expect("codes");
                            let mut valid = 0;
                            for code in 0..=adc.last_code() {
                                let fault = limits.fault(code);
                                let inside = (codes.first..=codes.last).contains(&code);
                                assert_eq!(fault.is_none(), inside, "code {code}");
                                valid += u32::from(inside);
                            }
                            assert_eq!(valid, codes.count());
                            let of = |ohm| limits.fault(adc.code_at(divider.ratio_at(ohm)));
                            assert_eq!(of(f64::INFINITY), Some(FaultCode::Open));
                            assert_eq!(of(0.0), Some(FaultCode::Short));
                            seen += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(seen + refused, 9 * 2 * 4 * 4 * 4 * 2);
    assert!(seen > 1500, "{seen} designs measured, {refused} refused");
}

fn sensors() -> impl Strategy<Value = (Sensor, f64, f64, f64)> {
    let curve = prop_oneof![
        (2_000.0..100_000.0f64, 2500.0..4500.0f64)
            .prop_map(|(r25, b)| (Curve::Beta(Beta::new(r25, b)), r25)),
        (0.8..1.3f64).prop_map(|scale| (
            Curve::SteinhartHart(SteinhartHart::new(
                1.129148e-3,
                2.34125e-4 * scale,
                8.76741e-8
            )),
            10_000.0
        )),
        prop_oneof![Just(100.0), Just(1000.0)]
            .prop_map(|r0| (Curve::Platinum(Platinum::new(r0)), r0)),
    ];
    let network = (
        0.2..5.0f64,
        any::<bool>(),
        prop_oneof![Just(0.0), 1.0..500.0f64],
        any::<bool>(),
    );
    let adc = (
        8u32..=16,
        any::<bool>(),
        prop_oneof![Just(None), (1.0..4.0f64).prop_map(Some)],
    );
    (
        curve,
        network,
        adc,
        -40.0..60.0f64,
        15.0..120.0f64,
        0.05..1.0f64,
    )
        .prop_map(
            |(
                (curve, nominal),
                (times, supply, series, parallel),
                (bits, last, volts),
                low,
                span,
                error,
            )| {
                let side = if supply { Side::Supply } else { Side::Ground };
                let mut divider = Divider::new(side, nominal * times).with_series(series);
                if parallel {
                    divider = divider.with_parallel(10.0 * nominal);
                }
                let mut adc = Adc::ratiometric(bits);
                if last {
                    adc = adc.with_last_code_as_full_scale();
                }
                if let Some(volts) = volts {
                    adc = adc.with_fixed_reference(volts, 3.3);
                }
                (
                    Sensor {
                        adc,
                        divider,
                        curve,
                    },
                    low,
                    (low + span).min(127.0),
                    error,
                )
            },
        )
}

/// Most codes of a random range.
const CODES_MAX: u32 = 600;

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    /// Random dividers, curves, ranges and converters of 8 to 16 bits: what is generated keeps its promise at every code.
    #[test]
    fn random_designs((sensor, low, high, error) in sensors(), which in 0usize..3, jumps in 0usize..=3) {
        // The search's time goes with the codes of the range: a wide converter gets a narrower one.
        let mut high = high;
        while sensor.codes(low, high).is_ok_and(|codes| codes.count() > CODES_MAX) {
            high = low + 0.7 * (high - low);
        }
        let request = Request {
            error_celsius: error,
            jumps,
            ..request(sensor, low, high, ENCODINGS[which])
        };
        match generate(&request) {
            Ok(table) => {
                prop_assert_eq!(walk(&table), u32::from(sensor.adc.last_code()) + 1);
            }
            Err(TableError::Sensor(_)) => {}
            Err(TableError::DoesNotExist(Encoding::Packed)) => {}
            Err(TableError::TooFine { .. } | TableError::RangeBeyondWord { .. }) => {}
            Err(other) => prop_assert!(false, "{}", other),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// The truth is monotone in the code and inverts, at every width from 8 to 16 bits.
    #[test]
    fn truth_is_monotone_and_inverts((sensor, low, high, _) in sensors()) {
        let Ok(codes) = sensor.codes(low, high) else { return Ok(()) };
        let mut before = sensor.celsius_at_code(codes.first);
        prop_assert!((low..=high).contains(&before));
        for code in codes.first + 1..=codes.last {
            let celsius = sensor.celsius_at_code(code);
            let ordered = if codes.rising { celsius > before } else { celsius < before };
            prop_assert!(ordered);
            before = celsius;
        }
        prop_assert!((low..=high).contains(&before));
        let middle = codes.first + (codes.last - codes.first) / 2;
        let position = sensor.position_at(sensor.celsius_at_code(middle));
        prop_assert!((position - f64::from(middle) - 0.5).abs() < 1e-6);
        prop_assert_eq!(sensor.code_at(sensor.celsius_at_code(middle)), middle);
    }
}
