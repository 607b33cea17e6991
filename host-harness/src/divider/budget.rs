//! The error budget: what each tolerance costs in degrees, and what they cost together.
//!
//! Every figure is the reading of a sensor whose parts are off, converted with the nominal curve, minus
//! the true temperature. Nothing is linearised. Together:
//!
//! - **worst case**: the largest error over all corners of the tolerances; it will not happen in a
//!   thousand boxes, and it is what a hard limit has to survive;
//! - **root sum square**: the contributions as independent, self-heating added as it is (its sign is
//!   known);
//! - **Monte Carlo**: every tolerance drawn evenly from its range (an assumption: makers do not say how
//!   their parts are spread), the error that 95 % of the boxes stay within, and the largest drawn.

use super::{celsius_per_lsb, self_heating_kelvin, sensor_watts};
use crate::design::{Sensing, SensorFacts};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use sensor_math::Sensor;

/// Boxes drawn for the Monte Carlo figures.
pub const DRAWS: usize = 4000;

/// How far each part is off; each in -1..=1 of its tolerance, self-heating in 0..=1.
#[derive(Clone, Copy, Debug, Default)]
struct Off {
    nominal: f64,
    beta: f64,
    resistor: f64,
    offset: f64,
    gain: f64,
    quantisation: f64,
    table: f64,
    heating: f64,
}

/// What each source of error costs at one temperature, kelvin, as magnitudes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sources {
    /// Tolerance of the sensor's nominal resistance, or of its class.
    pub nominal: f64,
    /// Tolerance of Beta, or of a platinum sensor's slope.
    pub beta: f64,
    /// Tolerance of the divider's resistor.
    pub resistor: f64,
    /// Offset of the converter.
    pub offset: f64,
    /// Gain error of the converter.
    pub gain: f64,
    /// Half an ADC step.
    pub quantisation: f64,
    /// The table's wanted error.
    pub table: f64,
    /// Self-heating: the sensor is warmer than its place by this.
    pub self_heating: f64,
}

impl Sources {
    /// All of them with their names, the largest first.
    #[must_use]
    pub fn largest_first(&self) -> [(&'static str, f64); 8] {
        let mut all = [
            ("sensor's nominal value or class", self.nominal),
            ("sensor's Beta or slope", self.beta),
            ("divider's resistor", self.resistor),
            ("converter's offset", self.offset),
            ("converter's gain", self.gain),
            ("half a code", self.quantisation),
            ("table", self.table),
            ("self-heating", self.self_heating),
        ];
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }

    /// Independent ones as a root sum square, self-heating added as it is.
    #[must_use]
    pub fn root_sum_square(&self) -> f64 {
        let squares: f64 = [
            self.nominal,
            self.beta,
            self.resistor,
            self.offset,
            self.gain,
            self.quantisation,
            self.table,
        ]
        .iter()
        .map(|part| part * part)
        .sum();
        squares.sqrt() + self.self_heating
    }
}

/// What each source costs at a temperature, degC, with a divider resistor in ohm in place of the design's.
#[must_use]
pub fn sources(sensing: &Sensing, resistor_ohm: f64, celsius: f64) -> Sources {
    let mut sensor = sensing.sensor;
    sensor.divider.resistor_ohm = resistor_ohm;
    let parts = Parts {
        sensor: &sensor,
        facts: &sensing.facts,
        table: sensing.table.error_celsius,
    };
    parts.sources(celsius)
}

/// The budget at one temperature; errors in kelvin, as magnitudes unless said otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// True temperature, degC.
    pub celsius: f64,
    /// Degrees that one ADC step stands for.
    pub celsius_per_lsb: f64,
    /// What each source costs.
    pub sources: Sources,
    /// Worst corner.
    pub worst: f64,
    /// Root sum square.
    pub root_sum_square: f64,
    /// 95 % of the drawn boxes err by no more.
    pub drawn_95: f64,
    /// Largest error drawn.
    pub drawn_largest: f64,
}

/// A budget over a range of temperatures.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// From cold to hot, ends included.
    pub rows: Vec<Row>,
    /// Seed of the draws.
    pub seed: u64,
}

struct Parts<'a> {
    sensor: &'a Sensor,
    facts: &'a SensorFacts,
    table: f64,
}

impl Parts<'_> {
    /// What is read at a temperature when the parts are off, minus that temperature.
    fn error(&self, celsius: f64, off: &Off) -> f64 {
        let (sensor, facts) = (self.sensor, self.facts);
        let curve = &sensor.curve;
        let mut place = celsius;
        if off.heating != 0.0 {
            place += off.heating * self.heating(celsius);
        }
        if let Some(class) = &facts.class {
            // the class speaks of degrees: such a sensor gives what a nominal one gives so much beside
            place += off.nominal * class.kelvin_at(celsius);
        }
        let mut ohm = curve.ohm_at(place) * (1.0 + off.nominal * facts.nominal_tolerance);
        // R = R25 (Rn / R25)^(1 + d): for the Beta equation exactly a Beta that is off by d, for platinum a slope.
        let r25 = curve.ohm_at(25.0);
        ohm *= (curve.ohm_at(place) / r25).powf(off.beta * facts.beta_tolerance);
        let mut divider = sensor.divider;
        divider.resistor_ohm *= 1.0 + off.resistor * facts.resistor_tolerance;
        let position = sensor.adc.position_at(divider.ratio_at(ohm));
        let position = position * (1.0 + off.gain * facts.gain_error)
            + off.offset * facts.offset_lsb
            + off.quantisation * 0.5;
        sensor.celsius_at_position(position) + off.table * self.table - celsius
    }

    fn heating(&self, celsius: f64) -> f64 {
        let ohm = self.sensor.curve.ohm_at(celsius);
        let watts = sensor_watts(&self.sensor.divider, self.facts.supply_volts, ohm);
        self_heating_kelvin(watts, self.facts.dissipation_w_per_kelvin)
    }

    /// What each source costs at a temperature, kelvin, and what they come to as independent ones.
    fn sources(&self, celsius: f64) -> Sources {
        let single = |set: &dyn Fn(&mut Off, f64)| {
            let at = |sign: f64| {
                let mut off = Off::default();
                set(&mut off, sign);
                self.error(celsius, &off).abs()
            };
            at(1.0).max(at(-1.0))
        };
        let nominal = single(&|off, s| off.nominal = s);
        let beta = single(&|off, s| off.beta = s);
        let resistor = single(&|off, s| off.resistor = s);
        let offset = single(&|off, s| off.offset = s);
        let gain = single(&|off, s| off.gain = s);
        let quantisation = single(&|off, s| off.quantisation = s);
        Sources {
            nominal,
            beta,
            resistor,
            offset,
            gain,
            quantisation,
            table: self.table,
            self_heating: self.heating(celsius),
        }
    }

    fn row(&self, celsius: f64, draws: &[Off]) -> Row {
        let sources = self.sources(celsius);
        let mut worst = 0f64;
        for corner in 0..1u32 << 8 {
            let sign = |bit: u32| if corner >> bit & 1 == 0 { -1.0 } else { 1.0 };
            let off = Off {
                nominal: sign(0),
                beta: sign(1),
                resistor: sign(2),
                offset: sign(3),
                gain: sign(4),
                quantisation: sign(5),
                table: sign(6),
                heating: sign(7).max(0.0),
            };
            worst = worst.max(self.error(celsius, &off).abs());
        }
        let mut drawn: Vec<f64> = draws
            .iter()
            .map(|off| self.error(celsius, off).abs())
            .collect();
        drawn.sort_by(f64::total_cmp);
        Row {
            celsius,
            celsius_per_lsb: celsius_per_lsb(self.sensor, celsius),
            sources,
            worst,
            root_sum_square: sources.root_sum_square(),
            drawn_95: drawn[drawn.len() * 95 / 100],
            drawn_largest: drawn[drawn.len() - 1],
        }
    }
}

/// The budget of a design at `count` temperatures (at least 2) across its table's range. The same seed
/// gives the same figures on every machine.
#[must_use]
pub fn budget(sensing: &Sensing, count: usize, seed: u64) -> Budget {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut even = || spread(&mut random);
    let draws: Vec<Off> = (0..DRAWS)
        .map(|_| Off {
            nominal: even(),
            beta: even(),
            resistor: even(),
            offset: even(),
            gain: even(),
            quantisation: even(),
            table: even(),
            heating: 1.0,
        })
        .collect();
    let parts = Parts {
        sensor: &sensing.sensor,
        facts: &sensing.facts,
        table: sensing.table.error_celsius,
    };
    let (low, high) = (sensing.table.low_celsius, sensing.table.high_celsius);
    let step = (high - low) / (count.max(2) - 1) as f64;
    let rows = (0..count.max(2))
        .map(|i| parts.row(low + step * i as f64, &draws))
        .collect();
    Budget { rows, seed }
}

/// Evenly from -1 to 1.
fn spread(random: &mut impl rand::Rng) -> f64 {
    random.random_range(-1.0..=1.0)
}
