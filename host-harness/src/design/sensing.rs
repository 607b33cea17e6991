//! `[sensor]`, `[divider]`, `[adc]`, `[table]`: everything left of the loop.

use sensor_math::Sensor;
use sensor_math::adc::Adc;
use sensor_math::curve::{Beta, Curve, Platinum, Point, Points, SteinhartHart};
use sensor_math::divider::{Divider, Side};

use super::document::Section;
use super::keys as q;
use super::platinum::{Element, Tolerance};

/// How a design's table is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// Equal steps of a power of two of codes; one multiplication a lookup.
    Uniform,
    /// Two or three zones of equal steps; constant time.
    Zones,
    /// Free knots, scanned; the fewest bytes.
    Packed,
    /// Whatever needs the fewest bytes.
    Smallest,
}

/// What is known of the sensor and its converter beyond their nominal curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorFacts {
    /// Tolerance of the nominal resistance, share.
    pub nominal_tolerance: f64,
    /// Tolerance of Beta, share; of a platinum sensor, of its slope.
    pub beta_tolerance: f64,
    /// Tolerance class of a platinum sensor, in place of the two before, which are 0 then.
    pub class: Option<Tolerance>,
    /// Tolerance of the divider's resistor, share.
    pub resistor_tolerance: f64,
    /// Dissipation constant, W/K.
    pub dissipation_w_per_kelvin: f64,
    /// Voltage across the divider.
    pub supply_volts: f64,
    /// Time constant in its place, seconds.
    pub lag_s: f64,
    /// Largest plausible but false reading the design allows for, kelvin.
    pub drift_celsius: f64,
    /// Noise of a reading, after its burst, LSB root mean square.
    pub noise_lsb: f64,
    /// How one reading is taken.
    pub burst: Burst,
    /// Capacitor from the converter's input to ground, farad; 0 for none.
    pub filter_farad: f64,
    /// Offset error of the converter, LSB.
    pub offset_lsb: f64,
    /// Gain error of the converter, share of full scale.
    pub gain_error: f64,
}

/// How one reading is taken: so many conversions at so many a second, their mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Burst {
    /// Conversions; 1 for no burst.
    pub samples: u32,
    /// Conversions a second; meaningless for one.
    pub hertz: f64,
}

/// The wanted table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableDesign {
    /// Lowest temperature, degC.
    pub low_celsius: f64,
    /// Highest temperature, degC.
    pub high_celsius: f64,
    /// Largest error over every code, kelvin.
    pub error_celsius: f64,
    /// Layout.
    pub encoding: Encoding,
    /// Fraction bits of a temperature word: the most that hold the range (7, 5 or 4).
    pub fraction_bits: u32,
}

/// Sensor, divider, converter and table.
#[derive(Clone, Debug)]
pub struct Sensing {
    /// The curve, divider and converter.
    pub sensor: Sensor,
    /// Tolerances and the like.
    pub facts: SensorFacts,
    /// The table.
    pub table: TableDesign,
}

/// Temperature formats of the project: fraction bits of a 16-bit word, and the domain of the law in it, degC.
pub const FORMATS: [(u32, f64); 3] = [(7, 128.0), (5, 512.0), (4, 1024.0)];

/// Fraction bits of the finest format whose law domain holds both temperatures.
#[must_use]
pub fn fraction_bits_for(low_celsius: f64, high_celsius: f64) -> u32 {
    FORMATS
        .iter()
        .find(|(bits, half)| {
            low_celsius >= -half && high_celsius <= half - 1.0 / f64::from(1u32 << bits)
        })
        .map_or(4, |(bits, _)| *bits)
}

/// What a sensor is and how its curve is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SensorKind {
    /// A thermistor by its Beta.
    NtcBeta,
    /// A thermistor by Steinhart-Hart coefficients or fit points.
    SteinhartHart,
    /// A platinum resistor.
    Platinum,
    /// Measured points.
    Points,
}

fn read_curve(section: &Section<'_>, kind: SensorKind) -> Option<Curve> {
    match kind {
        SensorKind::NtcBeta => Some(Curve::Beta(Beta::new(
            section.number(&q::R25),
            section.number(&q::BETA),
        ))),
        SensorKind::SteinhartHart if section.holds(&q::THROUGH) => through(section),
        SensorKind::SteinhartHart => Some(Curve::SteinhartHart(SteinhartHart::new(
            section.number(&q::SH_A),
            section.number(&q::SH_B),
            section.number(&q::SH_C),
        ))),
        SensorKind::Platinum => Some(Curve::Platinum(Platinum::new(section.number(&q::R0)))),
        SensorKind::Points => {
            let points: Vec<Point> = section
                .pairs(&q::POINTS)
                .into_iter()
                .map(|(celsius, ohm)| Point { celsius, ohm })
                .collect();
            if section.document().is_bad() {
                return None;
            }
            // a design lives as long as the program, and the curve's type is made for `const` tables in flash
            match Points::new(Box::leak(points.into_boxed_slice())) {
                Ok(points) => Some(Curve::Points(points)),
                Err(error) => {
                    section.problem(&q::POINTS, &error.to_string(), "at least two points of rising temperature with resistances that all rise or all fall");
                    None
                }
            }
        }
    }
}

/// Steinhart-Hart from three fit points in place of its coefficients.
fn through(section: &Section<'_>) -> Option<Curve> {
    const ACCEPTED: &str =
        "three pairs [celsius, ohm], all different, resistance falling as temperature rises";
    for coefficient in [&q::SH_A, &q::SH_B, &q::SH_C] {
        if section.optional(coefficient).is_some() {
            section.problem(
                coefficient,
                "is given beside fit points",
                "either through = [[celsius, ohm], ...] or the three coefficients",
            );
        }
    }
    let points = section.pairs(&q::THROUGH);
    if section.document().is_bad() {
        return None;
    }
    let Ok(three) = <[(f64, f64); 3]>::try_from(points) else {
        section.problem(&q::THROUGH, "does not hold three points", ACCEPTED);
        return None;
    };
    match SteinhartHart::through(three) {
        Ok(curve) => Some(Curve::SteinhartHart(curve)),
        Err(error) => {
            section.problem(&q::THROUGH, &format!("gives no curve: {error}"), ACCEPTED);
            None
        }
    }
}

/// How one reading is taken.
fn burst(adc: &Section<'_>) -> Burst {
    let samples = adc.whole(&q::BURST_SAMPLES);
    let rate = adc.optional(&q::BURST_RATE);
    if samples > 1 && rate.is_none() && !adc.document().is_bad() {
        adc.problem(
            &q::BURST_SAMPLES,
            &format!("= {samples} without a rate"),
            "burst_hertz beside it",
        );
    }
    Burst {
        samples,
        hertz: rate.unwrap_or(1.0),
    }
}

/// The tolerance class of a platinum sensor; nothing else may say what it says.
fn tolerance_class(sensor: &Section<'_>) -> Option<Tolerance> {
    let element = sensor.choice(&q::ELEMENT).unwrap_or(Element::Film);
    if !sensor.holds(&q::TOLERANCE_CLASS) {
        return None;
    }
    let class = sensor.choice(&q::TOLERANCE_CLASS)?;
    for key in [&q::R25_TOLERANCE, &q::SLOPE_TOLERANCE] {
        if sensor.holds(key) {
            sensor.problem(
                key,
                "is given beside tolerance_class",
                "either the class, or the two tolerances",
            );
        }
    }
    Some(Tolerance { class, element })
}

pub(super) fn read(root: &Section<'_>) -> Option<Sensing> {
    let sensor = root.section(&q::SENSOR, true);
    let divider = root.section(&q::DIVIDER, true);
    let adc = root.section(&q::ADC, true);
    let table = root.section(&q::TABLE, true);

    let kind = sensor.choice(&q::KIND);
    let curve = kind.and_then(|kind| read_curve(&sensor, kind));
    let supply_volts = divider.number(&q::SUPPLY);
    let mut facts = SensorFacts {
        nominal_tolerance: sensor.number(&q::R25_TOLERANCE) / 100.0,
        beta_tolerance: sensor.number(match kind {
            Some(SensorKind::Platinum) => &q::SLOPE_TOLERANCE,
            _ => &q::BETA_TOLERANCE,
        }) / 100.0,
        class: match kind {
            Some(SensorKind::Platinum) => tolerance_class(&sensor),
            _ => None,
        },
        resistor_tolerance: divider.number(&q::RESISTOR_TOLERANCE) / 100.0,
        dissipation_w_per_kelvin: sensor.number(&q::DISSIPATION) / 1000.0,
        supply_volts,
        lag_s: sensor.number(&q::SENSOR_LAG),
        drift_celsius: sensor.number(&q::DRIFT),
        noise_lsb: adc.number(&q::ADC_NOISE),
        burst: burst(&adc),
        filter_farad: divider.optional(&q::FILTER).unwrap_or(0.0) * 1e-9,
        offset_lsb: adc.number(&q::ADC_OFFSET),
        gain_error: adc.number(&q::ADC_GAIN) / 100.0,
    };

    if facts.class.is_some() {
        (facts.nominal_tolerance, facts.beta_tolerance) = (0.0, 0.0);
    }

    let side = divider.choice(&q::SENSOR_SIDE).unwrap_or(Side::Supply);
    let mut network = Divider::new(side, divider.number(&q::RESISTOR));
    if let Some(ohm) = divider.optional(&q::SERIES) {
        network = network.with_series(ohm);
    }
    if let Some(ohm) = divider.optional(&q::PARALLEL) {
        network = network.with_parallel(ohm);
    }

    let mut converter = Adc::ratiometric(adc.whole(&q::BITS));
    if adc.choice(&q::FULL_SCALE).unwrap_or(false) {
        converter = converter.with_last_code_as_full_scale();
    }
    if adc.choice(&q::REFERENCE_KIND).unwrap_or(false) {
        converter = converter.with_fixed_reference(adc.number(&q::REFERENCE), supply_volts);
    } else if adc.optional(&q::REFERENCE).is_some() {
        adc.problem(
            &q::REFERENCE,
            "is given, but reference is \"supply\"",
            "reference = \"fixed\", or no reference_volts",
        );
    }

    let low_celsius = table.number(&q::LOW);
    let high_celsius = table.number(&q::HIGH);
    if low_celsius >= high_celsius && !table.document().is_bad() {
        table.problem(
            &q::HIGH,
            &format!("= {high_celsius} is not above low_celsius = {low_celsius}"),
            "high_celsius above low_celsius",
        );
    }
    let wanted = TableDesign {
        low_celsius,
        high_celsius,
        error_celsius: table.number(&q::TABLE_ERROR),
        encoding: table.choice(&q::ENCODING).unwrap_or(Encoding::Zones),
        fraction_bits: fraction_bits_for(low_celsius, high_celsius),
    };
    // which keys belong to a sensor is not known before its kind is
    if kind.is_some() {
        sensor.finish();
    }
    for section in [&divider, &adc, &table] {
        section.finish();
    }
    let curve = curve?;
    if table.document().is_bad() {
        return None;
    }
    let (curve_low, curve_high) = curve.range_celsius();
    for (quantity, at) in [(&q::LOW, low_celsius), (&q::HIGH, high_celsius)] {
        if at < curve_low || at > curve_high {
            table.problem(
                quantity,
                &format!("= {at} is outside what the sensor's curve covers"),
                &format!("a temperature from {curve_low} to {curve_high} degC"),
            );
        }
    }
    if let Some(tolerance) = facts.class {
        let (low, high) = tolerance.range_celsius();
        for (quantity, at) in [(&q::LOW, low_celsius), (&q::HIGH, high_celsius)] {
            if at < low || at > high {
                table.problem(
                    quantity,
                    &format!("= {at} is outside what the sensor's tolerance class covers"),
                    &format!(
                        "a temperature from {low} to {high} degC, or another tolerance_class or element"
                    ),
                );
            }
        }
    }
    if !table.document().is_bad() && !curve.is_valid_over(low_celsius, high_celsius) {
        sensor.problem(
            &q::KIND,
            "has coefficients whose curve is not strictly monotone over the table's range",
            "coefficients of one real sensor",
        );
    }
    let sensor = Sensor {
        adc: converter,
        divider: network,
        curve,
    };
    Some(Sensing {
        sensor,
        facts,
        table: wanted,
    })
}
