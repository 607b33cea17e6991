//! The divider's resistor: the best for one temperature, the best for a range, and what the nearest
//! values in the drawer cost.

use super::budget::sources;
use super::celsius_per_lsb;
use crate::design::Sensing;
use sensor_math::Sensor;

/// A series of preferred values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// 12 values a decade, 10 %.
    E12,
    /// 24 values a decade, 5 %.
    E24,
    /// 96 values a decade, 1 %.
    E96,
}

/// IEC 60063, E24 (values from memory); E12 is every second one.
const E24: [f64; 24] = [
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6,
    6.2, 6.8, 7.5, 8.2, 9.1,
];

impl Series {
    /// All three, coarsest first.
    pub const ALL: [Self; 3] = [Self::E12, Self::E24, Self::E96];

    /// Name as in IEC 60063.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::E12 => "E12",
            Self::E24 => "E24",
            Self::E96 => "E96",
        }
    }

    /// The values of one decade, 1 up to below 10.
    #[must_use]
    pub fn values(self) -> Vec<f64> {
        match self {
            Self::E12 => E24.iter().copied().step_by(2).collect(),
            Self::E24 => E24.to_vec(),
            // E96 is the rounded geometric series, without exception.
            Self::E96 => (0..96)
                .map(|i| (10f64.powf(f64::from(i) / 96.0) * 100.0).round() / 100.0)
                .collect(),
        }
    }

    /// The value nearest to a resistance, by ratio.
    ///
    /// ```
    /// use host_harness::divider::resistor::Series;
    /// assert_eq!(Series::E12.nearest(5_300.0), 5_600.0);
    /// assert_eq!(Series::E24.nearest(5_300.0), 5_100.0);
    /// assert_eq!(Series::E96.nearest(5_300.0), 5_360.0);
    /// ```
    #[must_use]
    pub fn nearest(self, ohm: f64) -> f64 {
        let decade = 10f64.powf(ohm.log10().floor());
        let mut best = 10.0 * decade;
        for value in self.values() {
            let value = (value * decade * 1e3).round() / 1e3;
            if (value / ohm).ln().abs() < (best / ohm).ln().abs() {
                best = value;
            }
        }
        best
    }
}

/// What a resistor is chosen for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Goal {
    /// Finest step at one temperature, degC.
    At(f64),
    /// Smallest coarsest step between two temperatures, degC.
    Over(f64, f64),
}

/// Degrees an ADC step stands for with a resistor: at the goal's temperature, or the coarsest over its
/// range.
#[must_use]
pub fn step_celsius(sensor: &Sensor, resistor_ohm: f64, goal: Goal) -> f64 {
    let mut sensor = *sensor;
    sensor.divider.resistor_ohm = resistor_ohm;
    match goal {
        Goal::At(celsius) => celsius_per_lsb(&sensor, celsius),
        Goal::Over(low, high) => (0..=100)
            .map(|i| celsius_per_lsb(&sensor, low + (high - low) * f64::from(i) / 100.0))
            .fold(0.0, f64::max),
    }
}

/// The resistor with the smallest step for a goal, ohm. (For one temperature and a plain divider it equals the sensor.)
#[must_use]
pub fn best_resistor(sensor: &Sensor, goal: Goal) -> f64 {
    let centre = match goal {
        Goal::At(celsius) => celsius,
        Goal::Over(low, high) => 0.5 * (low + high),
    };
    least(sensor.curve.ohm_at(centre), |ohm| {
        step_celsius(sensor, ohm, goal)
    })
}

/// Largest error over the table's range with a resistor, kelvin: every source of the budget, root sum square, and
/// self-heating, at nine temperatures.
#[must_use]
pub fn whole_error_celsius(sensing: &Sensing, resistor_ohm: f64) -> f64 {
    let (low, high) = (sensing.table.low_celsius, sensing.table.high_celsius);
    (0..=8)
        .map(|n| low + (high - low) * f64::from(n) / 8.0)
        .map(|celsius| sources(sensing, resistor_ohm, celsius).root_sum_square())
        .fold(0.0, f64::max)
}

/// The resistor with the smallest whole error over the table's range, ohm.
#[must_use]
pub fn most_accurate_resistor(sensing: &Sensing) -> f64 {
    let centre = 0.5 * (sensing.table.low_celsius + sensing.table.high_celsius);
    least(sensing.sensor.curve.ohm_at(centre), |ohm| {
        whole_error_celsius(sensing, ohm)
    })
}

/// The resistance of the least cost: a scan over six decades around a start, then golden section.
fn least(start_ohm: f64, cost: impl Fn(f64) -> f64) -> f64 {
    let start = start_ohm.ln();
    let cost = |log: f64| {
        let cost = cost(log.exp());
        if cost.is_finite() { cost } else { f64::MAX }
    };
    let grid = |i: i32| start + f64::from(i) * 0.1;
    let best = (-69..=69)
        .map(|i| (i, cost(grid(i))))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |(i, _)| i);
    let (mut a, mut b) = (grid(best - 1), grid(best + 1));
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..40 {
        let (left, right) = (b - golden * (b - a), a + golden * (b - a));
        if cost(left) < cost(right) {
            b = right
        } else {
            a = left
        }
    }
    (0.5 * (a + b)).exp()
}
