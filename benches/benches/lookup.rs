//! Every lookup and filter on this machine, with their results asserted over every code first. What counts on a target is in
//! `targets.csv`; these figures only show a regression.

use criterion::{Criterion, criterion_group, criterion_main};
use fixed::types::extra::U7;
use sensor_math::Sensor;
use sensor_math::adc::Adc;
use sensor_math::curve::{Beta, Curve};
use sensor_math::divider::{Divider, Side};
use sensor_math::filter::{Exponential, Oversample, median_of_3, median_of_5};
use sensor_math::table::{Lookup, Packed, Uniform, Zones};
use sensor_math::thermometer::Thermometer;
use sensor_math::trim::{Trim, Trimmed};
use std::hint::black_box;

const LOW: f64 = -10.0;
const HIGH: f64 = 100.0;

/// 10 kohm over 10 kohm, Beta 3435.
const fn sensor(bits: u32) -> Sensor {
    Sensor {
        adc: Adc::ratiometric(bits),
        divider: Divider::new(Side::Supply, 10_000.0),
        curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
    }
}

/// Written by `hushloop table host-harness/designs/tables/beta-m10-100.toml --format rust --encoding ...`, and by the
/// same with 12 bits.
mod tables {
    use super::{Packed, U7, Uniform, Zones};

    pub type Uniform10 = Uniform<[i16; 48], 4, U7>;
    pub const UNIFORM_10: Uniform10 = Uniform::from_knots(
        181,
        931,
        [
            -1286, -1017, -759, -513, -274, -43, 182, 401, 617, 828, 1036, 1243, 1447, 1649, 1851,
            2052, 2253, 2455, 2656, 2860, 3064, 3271, 3480, 3692, 3907, 4126, 4350, 4578, 4813,
            5053, 5301, 5558, 5823, 6099, 6387, 6687, 7004, 7338, 7693, 8071, 8478, 8918, 9398,
            9928, 10518, 11189, 11966, 12874,
        ],
    );
    pub type Zones10 = Zones<[i16; 18], 6, 5, 4, U7>;
    pub const ZONES_10: Zones10 = Zones::from_knots(
        164,
        740,
        868,
        931,
        [
            -1554, -519, 394, 1232, 2040, 2845, 3675, 4557, 5530, 6657, 7313, 8040, 8880, 9886,
            10482, 11143, 11910, 12814,
        ],
    );
    pub type Packed10 = Packed<[u8; 20], 0, U7>;
    pub const PACKED_10: Packed10 = Packed::from_bytes(
        179,
        -1310,
        16,
        99,
        [
            16, 34, 128, 64, 127, 111, 204, 206, 113, 126, 70, 77, 85, 97, 114, 66, 73, 82, 95, 225,
        ],
        [],
    );
    pub type Uniform12 = Uniform<[i16; 48], 6, U7>;
    pub const UNIFORM_12: Uniform12 = Uniform::from_knots(
        728,
        3727,
        [
            -1275, -1006, -750, -503, -265, -34, 190, 410, 625, 836, 1045, 1250, 1455, 1657, 1859,
            2060, 2261, 2462, 2664, 2868, 3072, 3279, 3489, 3700, 3916, 4135, 4359, 4588, 4822,
            5063, 5311, 5568, 5834, 6109, 6398, 6700, 7016, 7352, 7707, 8087, 8494, 8936, 9418,
            9949, 10543, 11217, 11999, 12912,
        ],
    );
    pub type Zones12 = Zones<[i16; 18], 8, 7, 6, U7>;
    pub const ZONES_12: Zones12 = Zones::from_knots(
        657,
        2961,
        3473,
        3727,
        [
            -1556, -522, 393, 1230, 2038, 2844, 3673, 4555, 5528, 6655, 7311, 8036, 8877, 9881,
            10477, 11138, 11903, 12808,
        ],
    );
    pub type Packed12 = Packed<[u8; 20], 0, U7>;
    pub const PACKED_12: Packed12 = Packed::from_bytes(
        722,
        -1289,
        16,
        131,
        [
            16, 34, 128, 0, 126, 112, 203, 206, 113, 126, 71, 77, 86, 97, 115, 66, 74, 83, 96, 113,
        ],
        [],
    );
}

/// The largest error over every code of the range, degrees Celsius.
fn worst(table: &impl Lookup, bits: u32) -> f64 {
    let sensor = sensor(bits);
    let codes = sensor.codes(LOW, HIGH).expect("a range");
    (codes.first..=codes.last)
        .map(|code| (f64::from(table.lookup(code)) / 128.0 - sensor.celsius_at_code(code)).abs())
        .fold(0.0, f64::max)
}

/// Codes all over the range, in no order.
fn wander(k: &mut u32, bits: u32) -> u16 {
    *k = k.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    (*k >> (32 - bits)) as u16
}

fn one<T: Lookup<Frac = U7> + Copy>(c: &mut Criterion, name: &str, table: T, bits: u32) {
    // A bench of a wrong result is worth nothing.
    let worst = worst(&table, bits);
    assert!(worst <= 0.1, "{name} at {bits} bits: {worst} degC");
    let mut k = 1;
    c.bench_function(&format!("{name}, {bits} bits"), |b| {
        b.iter(|| black_box(&table).lookup(wander(&mut k, bits)));
    });
}

fn lookups(c: &mut Criterion) {
    const KNOTS: usize = Uniform::<(), 3, U7>::knots_for(&sensor(10), LOW, HIGH);
    const ON_CURVE: Uniform<[i16; KNOTS], 3, U7> = Uniform::on_curve(&sensor(10), LOW, HIGH);
    one(c, "uniform on the curve", ON_CURVE, 10);
    one(c, "uniform", tables::UNIFORM_10, 10);
    one(c, "zones", tables::ZONES_10, 10);
    one(c, "packed", tables::PACKED_10, 10);
    one(c, "uniform", tables::UNIFORM_12, 12);
    one(c, "zones", tables::ZONES_12, 12);
    one(c, "packed", tables::PACKED_12, 12);
}

fn thermometers(c: &mut Criterion) {
    const TRIM: Trim<U7> = Trim::two_points_or_panic((0.5, 0.0), (80.0, 80.5));
    let limits = sensor(10).limits_or_panic(LOW, HIGH);
    let plain = Thermometer::new(tables::ZONES_10, limits);
    let trimmed = Thermometer::new(Trimmed::new(tables::ZONES_10, TRIM), limits);
    let mut readings = 0;
    for code in 0..1024 {
        let (plain, trimmed) = (plain.read(code), trimmed.read(code));
        assert_eq!(plain.is_ok(), trimmed.is_ok());
        if let (Ok(plain), Ok(trimmed)) = (plain, trimmed) {
            let wanted = (plain.to_num::<f64>() - 0.5) * (80.5 / 79.5);
            assert!((trimmed.to_num::<f64>() - wanted).abs() < 0.6 / 128.0);
            readings += 1;
        }
    }
    assert_eq!(readings, 750);
    let mut k = 1;
    c.bench_function("thermometer, zones", |b| {
        b.iter(|| black_box(&plain).read(wander(&mut k, 10)));
    });
    c.bench_function("thermometer, zones and trim", |b| {
        b.iter(|| black_box(&trimmed).read(wander(&mut k, 10)));
    });
}

fn filters(c: &mut Criterion) {
    let mut burst = Oversample::<10, 2>::default();
    let decimated = (0..16).filter_map(|i| burst.push(500 + i % 2)).last();
    assert_eq!(decimated, Some(2004)); // (8 * 500 + 8 * 501 + 8) / 4
    assert_eq!(median_of_3([7, 1023, 5]), 7);
    assert_eq!(median_of_5([9, 0, 8, 1023, 7]), 8);
    let mut low_pass = Exponential::<3>::new(0);
    for _ in 0..200 {
        low_pass.push(1000);
    }
    assert_eq!(low_pass.value(), 1000);

    let mut k = 1;
    c.bench_function("oversample, a burst of 16", |b| {
        b.iter(|| {
            (0..16)
                .filter_map(|_| burst.push(wander(&mut k, 10)))
                .last()
        });
    });
    c.bench_function("median of 3", |b| {
        b.iter(|| median_of_3([0; 3].map(|_: u16| wander(&mut k, 10))));
    });
    c.bench_function("median of 5", |b| {
        b.iter(|| median_of_5([0; 5].map(|_: u16| wander(&mut k, 10))));
    });
    c.bench_function("exponential filter", |b| {
        b.iter(|| low_pass.push(wander(&mut k, 10) as i16));
    });
}

criterion_group!(lookup, lookups, thermometers, filters);
criterion_main!(lookup);
