//! The lookup tables under trial: a 10 kohm thermistor (B = 3435) at the supply side of a 10 kohm divider, 10-bit
//! converter, -10 to 100 degC, in 1/128 degC.

use crate::checksum::Checksum;
use sensor_math::Sensor;
use sensor_math::adc::Adc;
use sensor_math::curve::{Beta, Curve};
use sensor_math::divider::{Divider, Side};
use sensor_math::table::{Lookup, Uniform, Zones};

/// Fraction bits of the temperatures.
pub type Fraction = fixed::types::extra::U7;

/// The sensor of every table here.
pub const SENSOR: Sensor = Sensor {
    adc: Adc::ratiometric(10),
    divider: Divider::new(Side::Supply, 10_000.0),
    curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
};
const LOW_CELSIUS: f64 = -10.0;
const HIGH_CELSIUS: f64 = 100.0;

/// Codes the range spans.
pub const FIRST: u16 = SENSOR.codes_or_panic(LOW_CELSIUS, HIGH_CELSIUS).first;
/// Last code of the range.
pub const LAST: u16 = SENSOR.codes_or_panic(LOW_CELSIUS, HIGH_CELSIUS).last;
/// All codes of the converter.
pub const CODES: u16 = 1 << 10;

/// Step of the uniform table, 2^5 codes.
pub const UNIFORM_SHIFT: u32 = 5;
/// Its knots.
pub const UNIFORM_LENGTH: usize = Uniform::<(), UNIFORM_SHIFT, Fraction>::knots_over(FIRST, LAST);
/// Values at its knots, on the curve.
pub const UNIFORM_KNOTS: [i16; UNIFORM_LENGTH] = *Uniform::<
    [i16; UNIFORM_LENGTH],
    UNIFORM_SHIFT,
    Fraction,
>::on_curve(&SENSOR, LOW_CELSIUS, HIGH_CELSIUS)
.elements();

/// Steps of the zones table: 64, 32 and 16 codes.
pub const ZONE_SHIFTS: (u32, u32, u32) = (6, 5, 4);
/// End of the first zone, eight segments.
pub const FIRST_END: u16 = FIRST + 8 * 64;
/// End of the second zone, five segments.
pub const SECOND_END: u16 = FIRST_END + 5 * 32;
type ZonesOf<A, M> = Zones<A, { ZONE_SHIFTS.0 }, { ZONE_SHIFTS.1 }, { ZONE_SHIFTS.2 }, Fraction, M>;
/// Its knots.
pub const ZONES_LENGTH: usize =
    ZonesOf::<(), sensor_math::table::Native>::knots_over(FIRST, FIRST_END, SECOND_END, LAST);
/// Values at its knots, on the curve (the last segment reaches beyond the range).
pub const ZONES_KNOTS: [i16; ZONES_LENGTH] = {
    let mut knots = [0; ZONES_LENGTH];
    let mut index = 0;
    let mut code = FIRST;
    while index < ZONES_LENGTH {
        // The converter's last codes are beyond the range, and the curve is steep there but still defined.
        let celsius = SENSOR.celsius_at_code(code);
        knots[index] = (celsius * 128.0 + if celsius < 0.0 { -0.5 } else { 0.5 }) as i16;
        code += if code < FIRST_END {
            1 << ZONE_SHIFTS.0
        } else if code < SECOND_END {
            1 << ZONE_SHIFTS.1
        } else {
            1 << ZONE_SHIFTS.2
        };
        index += 1;
    }
    knots
};

/// The uniform table with its knots behind an accessor.
pub const fn uniform<A, M>(knots: A) -> Uniform<A, UNIFORM_SHIFT, Fraction, M> {
    const TABLE: Uniform<[i16; UNIFORM_LENGTH], UNIFORM_SHIFT, Fraction> =
        Uniform::from_knots(FIRST, LAST, UNIFORM_KNOTS);
    TABLE.read_through(knots)
}

/// The zones table with its knots behind an accessor.
pub const fn zones<A, M>(knots: A) -> ZonesOf<A, M> {
    const TABLE: ZonesOf<[i16; ZONES_LENGTH], sensor_math::table::Native> =
        Zones::from_knots(FIRST, FIRST_END, SECOND_END, LAST, ZONES_KNOTS);
    TABLE.read_through(knots)
}

/// Every code of the converter, and as many beyond it, through a lookup.
pub fn every_code(lookup: impl Fn(u16) -> i16) -> Checksum {
    let mut checksum = Checksum::default();
    let mut code = 0;
    while code < 2 * CODES {
        checksum.word(lookup(code));
        code += 1;
    }
    checksum
}

/// Every code through a table.
pub fn every_code_of<T: Lookup>(table: &T) -> Checksum {
    every_code(|code| table.lookup(code))
}
