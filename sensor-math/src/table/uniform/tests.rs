extern crate std;
use super::Uniform;
use crate::Sensor;
use crate::adc::Adc;
use crate::curve::{Beta, Curve, Platinum};
use crate::divider::{Divider, Side};
use crate::fault::FaultCode;
use crate::table::tests::{Ties, polyline};
use crate::table::{Lookup, Native};
use crate::thermometer::Thermometer;
use fixed::types::extra::{U4, U7};
use std::vec::Vec;

const SENSOR: Sensor = Sensor {
    adc: Adc::ratiometric(10),
    divider: Divider::new(Side::Supply, 10_000.0),
    curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
};

/// The table on the curve that firmware makes for itself, with no generator.
#[test]
fn on_curve_in_const_context() {
    const KNOTS: usize = Uniform::<(), 3, U7>::knots_for(&SENSOR, -10.0, 100.0);
    const TABLE: Uniform<[i16; KNOTS], 3, U7> = Uniform::on_curve(&SENSOR, -10.0, 100.0);
    const WORST: f64 = TABLE.worst_error_celsius(&SENSOR);
    const { assert!(WORST < 0.1) };
    static PROBE: Thermometer<Uniform<[i16; KNOTS], 3, U7>> =
        Thermometer::new(TABLE, SENSOR.limits_or_panic(-10.0, 100.0));
    let mut worst = 0f64;
    let (mut readings, mut faults) = (0, [0; 5]);
    for code in 0..=u16::MAX {
        assert_eq!(TABLE.lookup(code), TABLE.lookup_const(code));
        match PROBE.read(code) {
            Ok(celsius) => {
                worst = worst.max((celsius.to_num::<f64>() - SENSOR.celsius_at_code(code)).abs());
                readings += 1;
            }
            Err(fault) => faults[usize::from(fault.to_byte())] += 1,
        }
    }
    assert_eq!(worst, WORST);
    assert_eq!(readings, 750);
    // open 0..=91, short 977.., out of range between
    let count = |fault: FaultCode| faults[usize::from(fault.to_byte())];
    assert_eq!(count(FaultCode::Open), 92);
    assert_eq!(count(FaultCode::Short), 65_536 - 977);
    assert_eq!(count(FaultCode::OutOfRange), 90 + 45);
}

/// Platinum to 850 degC, at a coarser word of the same code.
#[test]
fn hot_platinum_in_a_coarser_word() {
    const HOT: Sensor = Sensor {
        adc: Adc::ratiometric(12),
        divider: Divider::new(Side::Ground, 1_000.0),
        curve: Curve::Platinum(Platinum::new(1_000.0)),
    };
    const KNOTS: usize = Uniform::<(), 4, U4>::knots_for(&HOT, -200.0, 850.0);
    const TABLE: Uniform<[i16; KNOTS], 4, U4> = Uniform::on_curve(&HOT, -200.0, 850.0);
    const { assert!(TABLE.worst_error_celsius(&HOT) < 0.3) };
    assert_eq!(TABLE.lookup(HOT.code_at(400.0)).abs_diff(400 * 16) / 16, 0);
}

/// Every code of tables of several steps against the straight lines they stand for.
#[test]
fn every_code_is_on_the_lines_between_the_knots() {
    fn walk<const N: usize, const SHIFT: u32>(first: u16, last: u16, words: [i16; N]) -> u32 {
        let table = Uniform::<[i16; N], SHIFT, U7>::from_knots(first, last, words);
        assert_eq!((table.codes(), table.elements()), ((first, last), &words));
        assert_eq!(table.bytes(), 2 * N + 4);
        let knots: Vec<(u32, i32)> = (0..)
            .zip(words)
            .map(|(j, word)| (u32::from(first) + (j << SHIFT), i32::from(word)))
            .collect();
        let other = table.read_through::<&[i16], Native>(&words);
        for code in 0..=u16::MAX {
            // clamped to the range, which may end between two knots
            let expected = polyline(&knots, code.clamp(first, last), Ties::Up);
            assert_eq!(table.lookup(code), expected, "code {code}");
            assert_eq!(table.lookup_const(code), expected, "code {code}");
            assert_eq!(other.lookup(code), expected, "code {code}");
        }
        65_536
    }
    let cases = walk::<4, 3>(100, 120, [-50, 51, 400, -1_000])
        + walk::<3, 3>(0, 14, [16_000, 0, -16_383])
        + walk::<3, 0>(7, 8, [1, 2, -9])
        + walk::<3, 15>(0, u16::MAX, [-16_000, 0, 9_999])
        + walk::<2, 4>(u16::MAX - 9, u16::MAX, [5, 21]);
    assert_eq!(cases, 5 * 65_536);
}

/// A knot at the first code, and one at or after the last, plus the one an exact last knot needs.
#[test]
fn as_many_knots_as_the_codes_need() {
    type Steps = Uniform<(), 3, U7>;
    assert_eq!(
        [8, 9, 15, 16, 17].map(|last| Steps::knots_over(8, last)),
        [2, 2, 2, 3, 3]
    );
    assert_eq!(Uniform::<(), 0, U7>::knots_over(5, 9), 6);
    assert_eq!(Uniform::<(), 15, U7>::knots_over(0, u16::MAX), 3);
    assert_eq!((Steps::STEP, Uniform::<(), 0, U7>::STEP), (8, 1));
    // 182 ..= 931
    assert_eq!(Steps::knots_for(&SENSOR, -10.0, 100.0), 749 / 8 + 2);
}

#[test]
fn tables_that_cannot_be_are_refused() {
    fn refused<T>(f: fn() -> T) -> bool {
        std::panic::catch_unwind(f).is_err()
    }
    type Steps<const N: usize> = Uniform<[i16; N], 3, U7>;
    assert!(!refused(|| Steps::from_knots(8, 16, [0, 1, 2])));
    assert!(!refused(|| Steps::from_knots(8, 8, [0, 1])));
    assert!(refused(|| Steps::from_knots(8, 16, [0, 1])), "too few");
    assert!(
        refused(|| Steps::from_knots(16, 8, [0, 1])),
        "the wrong way round"
    );
    assert!(
        refused(|| Steps::from_knots(8, 16, [0, 0x4000, 0])),
        "too far apart"
    );
    assert!(
        refused(|| Uniform::<[i16; 9], 16, U7>::from_knots(0, 9, [0; 9])),
        "too wide"
    );
    assert!(
        refused(|| Steps::<90>::on_curve(&SENSOR, -10.0, 100.0)),
        "not knots_for"
    );
    assert!(
        refused(|| Steps::<96>::on_curve(&SENSOR, -10.0, 100.0)),
        "not knots_for"
    );
    // 300 degC is beyond 1/128 degC in 16 bits, and so is -300
    assert!(refused(|| {
        const HOT: Sensor = Sensor {
            adc: Adc::ratiometric(10),
            divider: Divider::new(Side::Ground, 1_000.0),
            curve: Curve::Platinum(Platinum::new(1_000.0)),
        };
        const N: usize = Uniform::<(), 3, U7>::knots_for(&HOT, 0.0, 300.0);
        Uniform::<[i16; N], 3, U7>::on_curve(&HOT, 0.0, 300.0)
    }));
}

/// On the curve means: within half a word at every knot of the range, and at the range's last code.
#[test]
fn knots_are_on_the_curve_and_so_is_the_last_code() {
    fn check<const N: usize, const SHIFT: u32>(sensor: &Sensor, low: f64, high: f64) {
        let table = Uniform::<[i16; N], SHIFT, U7>::on_curve(sensor, low, high);
        let (first, last) = table.codes();
        let codes = sensor.codes(low, high).unwrap();
        assert_eq!((first, last), (codes.first, codes.last));
        let half_a_word = 0.5 / 128.0 + 1e-12;
        let off = |code: u16| f64::from(table.lookup(code)) / 128.0 - sensor.celsius_at_code(code);
        for code in (first..=last).step_by(1 << SHIFT) {
            assert!(off(code).abs() <= half_a_word, "code {code}: {}", off(code));
        }
        // the last knot is half a word off its place at most, seen from the last code no more; the
        // left neighbour's rounding and the lookup's add as much again
        assert!(
            off(last).abs() <= 2.0 * half_a_word,
            "last code {last}: {}",
            off(last)
        );
        // errors are the largest over every code, found by a walk of our own
        let worst = (first..=last)
            .map(|code| off(code).abs())
            .fold(0.0, f64::max);
        assert_eq!(table.worst_error_celsius(sensor), worst);
    }
    check::<95, 3>(&SENSOR, -10.0, 100.0);
    check::<48, 4>(&SENSOR, -10.0, 100.0);
    // 8 codes and a step of 8: the last code is no knot; 9 codes: it is one
    let at = |position: f64| SENSOR.celsius_at_position(position);
    check::<2, 3>(&SENSOR, at(500.2), at(507.8));
    check::<3, 3>(&SENSOR, at(500.2), at(508.8));
    check::<3, 3>(&SENSOR, at(500.2), at(511.8));
    let falling = Sensor {
        divider: Divider::new(Side::Ground, 10_000.0),
        ..SENSOR
    };
    check::<95, 3>(&falling, -10.0, 100.0);
}

/// When the last code is a knot, one more follows it; it goes on as the curve does there.
#[test]
fn the_knot_beyond_a_last_code_that_is_one_goes_on_straight() {
    let at = |position: f64| SENSOR.celsius_at_position(position);
    let table = Uniform::<[i16; 3], 3, U7>::on_curve(&SENSOR, at(500.2), at(508.8));
    assert_eq!(table.codes(), (500, 508));
    let [_, last, beyond] = *table.elements();
    let slope = (at(508.5) - at(507.5)) * 128.0;
    assert!(
        (f64::from(beyond - last) - 8.0 * slope).abs() <= 1.0,
        "{last} {beyond} {slope}"
    );
}

/// A curve that is not a number is not a small error.
#[test]
fn a_curve_without_numbers_is_the_worst() {
    let table = Uniform::<[i16; 2], 3, U7>::from_knots(500, 507, [0, 0]);
    let broken = Sensor {
        curve: Curve::Beta(Beta::new(f64::NAN, 3435.0)),
        ..SENSOR
    };
    assert!(table.worst_error_celsius(&broken).is_nan());
}

/// Every code against ranges at either end of the word and across its sign, as machines of 16 bits and wider
/// compute it.
#[test]
fn any_machine_takes_a_code_beyond_an_end_as_that_end() {
    let mut cases = 0;
    for (first, last) in [
        (0, 0),
        (0, 1_023),
        (92, 932),
        (500, 500),
        (1, 32_767),
        (0, 32_768),
        (32_767, 32_767),
        (40_000, 60_000),
        (0, 65_535),
        (65_535, 65_535),
    ] {
        for code in 0..=u16::MAX {
            let want = usize::from(code.clamp(first, last) - first);
            for bits in [16, 32, 64] {
                let got = super::offset_within(bits, first, last, code);
                assert_eq!(got, want, "{first}..={last} {code} {bits}");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 10 * 65_536 * 3);
}
