//! The resistive divider that turns a sensor's resistance into a voltage ratio.
//!
//! ```text
//!   supply ---- [ sensor network ] --+-- [ resistor ] ---- ground      Side::Supply
//!   supply ---- [ resistor ] --------+-- [ sensor network ] ---- ground  Side::Ground
//!                                    |
//!                                   ADC
//! ```
//!
//! The sensor network is the sensor, with an optional resistor in parallel to it, and an optional
//! resistor in series with the two.

/// Where the sensor sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Between supply and ADC input: an NTC's voltage rises with temperature.
    Supply,
    /// Between ADC input and ground: an NTC's voltage falls with temperature.
    Ground,
}

/// A divider with a sensor in one half. Resistances in ohm.
///
/// ```
/// use sensor_math::divider::{Divider, Side};
/// const DIVIDER: Divider = Divider::new(Side::Supply, 10_000.0);
/// assert_eq!(DIVIDER.ratio_at(10_000.0), 0.5);
/// assert_eq!(DIVIDER.ohm_at(0.25), 30_000.0);
/// const LINEARISED: Divider = DIVIDER.with_parallel(10_000.0).with_series(100.0);
/// assert_eq!(LINEARISED.ratio_at(10_000.0), 10_000.0 / 15_100.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Divider {
    /// Where the sensor sits.
    pub side: Side,
    /// The divider's other half, above zero.
    pub resistor_ohm: f64,
    /// In series with the sensor (and with its parallel resistor); 0 for none.
    pub series_ohm: f64,
    /// In parallel with the sensor alone.
    pub parallel_ohm: Option<f64>,
}

impl Divider {
    /// A plain divider.
    pub const fn new(side: Side, resistor_ohm: f64) -> Self {
        Self {
            side,
            resistor_ohm,
            series_ohm: 0.0,
            parallel_ohm: None,
        }
    }

    /// The same with a resistor in series with the sensor.
    pub const fn with_series(mut self, series_ohm: f64) -> Self {
        self.series_ohm = series_ohm;
        self
    }

    /// The same with a resistor in parallel with the sensor.
    pub const fn with_parallel(mut self, parallel_ohm: f64) -> Self {
        self.parallel_ohm = Some(parallel_ohm);
        self
    }

    /// Whether every resistance is finite and of the right sign.
    pub const fn is_valid(&self) -> bool {
        let parallel = match self.parallel_ohm {
            None => true,
            Some(ohm) => ohm > 0.0 && ohm < f64::INFINITY,
        };
        parallel
            && self.resistor_ohm > 0.0
            && self.resistor_ohm < f64::INFINITY
            && self.series_ohm >= 0.0
            && self.series_ohm < f64::INFINITY
    }

    /// Resistance of the sensor network for a sensor of `sensor_ohm` (0 and infinity are a short
    /// and a broken wire).
    pub const fn network_ohm(&self, sensor_ohm: f64) -> f64 {
        let both = match self.parallel_ohm {
            None => sensor_ohm,
            Some(parallel) if sensor_ohm == f64::INFINITY => parallel,
            Some(parallel) => sensor_ohm * parallel / (sensor_ohm + parallel),
        };
        self.series_ohm + both
    }

    /// Voltage at the ADC over the divider's supply, 0 to 1.
    pub const fn ratio_at(&self, sensor_ohm: f64) -> f64 {
        let network = self.network_ohm(sensor_ohm);
        let infinite = network == f64::INFINITY;
        match self.side {
            Side::Supply if infinite => 0.0,
            Side::Supply => self.resistor_ohm / (network + self.resistor_ohm),
            Side::Ground if infinite => 1.0,
            Side::Ground => network / (network + self.resistor_ohm),
        }
    }

    /// Sensor resistance that gives a ratio. A ratio that no resistance gives returns the nearer
    /// end, 0 or infinity.
    pub const fn ohm_at(&self, ratio: f64) -> f64 {
        let (far, near) = match self.side {
            Side::Supply => (1.0 - ratio, ratio),
            Side::Ground => (ratio, 1.0 - ratio),
        };
        if near <= 0.0 {
            return f64::INFINITY;
        }
        let both = self.resistor_ohm * far / near - self.series_ohm;
        if both <= 0.0 {
            return 0.0;
        }
        match self.parallel_ohm {
            None => both,
            Some(parallel) if both >= parallel => f64::INFINITY,
            Some(parallel) => both * parallel / (parallel - both),
        }
    }
}

#[cfg(test)]
mod tests;
