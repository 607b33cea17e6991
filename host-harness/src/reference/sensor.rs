//! Sensor curves and divider in f64, by the standard library's logarithm and exponential.
//!
//! Kept apart from `sensor_math` on purpose: that crate brings its own `const` logarithm, and an oracle
//! that called it could not see its faults.

/// 0 degC in kelvin (ITS-90).
pub const ZERO_CELSIUS_KELVIN: f64 = 273.15;

/// Resistance of a thermistor by the Beta equation, ohm. Source: IEC 60539, definition of the B-value.
#[must_use]
pub fn beta_ohm(r25_ohm: f64, beta_kelvin: f64, celsius: f64) -> f64 {
    r25_ohm * (beta_kelvin * (1.0 / (celsius + ZERO_CELSIUS_KELVIN) - 1.0 / 298.15)).exp()
}

/// Temperature of a thermistor by the Beta equation, degC.
#[must_use]
pub fn beta_celsius(r25_ohm: f64, beta_kelvin: f64, ohm: f64) -> f64 {
    1.0 / (1.0 / 298.15 + (ohm / r25_ohm).ln() / beta_kelvin) - ZERO_CELSIUS_KELVIN
}

/// Temperature by the Steinhart-Hart equation 1/T = a + b ln R + c (ln R)^3, degC.
/// Source: Steinhart and Hart, Deep-Sea Research 15 (1968) 497.
#[must_use]
pub fn steinhart_hart_celsius(a: f64, b: f64, c: f64, ohm: f64) -> f64 {
    let l = ohm.ln();
    1.0 / (a + b * l + c * l * l * l) - ZERO_CELSIUS_KELVIN
}

/// Resistance by the Steinhart-Hart equation, by bisection on the temperature's strictly falling curve, ohm.
///
/// Bisection, for the shipped crate uses Newton's iteration: the two must not be able to share a mistake.
#[must_use]
pub fn steinhart_hart_ohm(a: f64, b: f64, c: f64, celsius: f64) -> f64 {
    let (mut low, mut high) = ((1e-3f64).ln(), (1e10f64).ln());
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if steinhart_hart_celsius(a, b, c, middle.exp()) > celsius {
            low = middle
        } else {
            high = middle
        }
    }
    (0.5 * (low + high)).exp()
}

/// Callendar-Van Dusen coefficients of IEC 60751 (ITS-90): A in 1/degC, B in 1/degC^2, C in 1/degC^4.
pub const PLATINUM: (f64, f64, f64) = (3.9083e-3, -5.775e-7, -4.183e-12);

/// Resistance of a platinum sensor by IEC 60751, -200 to 850 degC, ohm.
#[must_use]
pub fn platinum_ohm(r0_ohm: f64, t: f64) -> f64 {
    let (a, b, c) = PLATINUM;
    let below = if t < 0.0 {
        c * (t - 100.0) * t * t * t
    } else {
        0.0
    };
    r0_ohm * (1.0 + a * t + b * t * t + below)
}

/// Temperature of a platinum sensor, by bisection on the rising curve, degC.
#[must_use]
pub fn platinum_celsius(r0_ohm: f64, ohm: f64) -> f64 {
    let (mut low, mut high) = (-273.0, 1200.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if platinum_ohm(r0_ohm, middle) < ohm {
            low = middle
        } else {
            high = middle
        }
    }
    0.5 * (low + high)
}

/// Share of full scale at the converter for a sensor resistance.
///
/// `on_supply_side` says where the sensor stands, `series_ohm` is in series with it and `parallel_ohm`
/// across it (infinite for none); `reference_ratio` is supply voltage over reference voltage.
#[must_use]
pub fn divider_share(
    sensor_ohm: f64,
    resistor_ohm: f64,
    on_supply_side: bool,
    series_ohm: f64,
    parallel_ohm: f64,
    reference_ratio: f64,
) -> f64 {
    let branch = series_ohm
        + if parallel_ohm.is_finite() {
            sensor_ohm * parallel_ohm / (sensor_ohm + parallel_ohm)
        } else {
            sensor_ohm
        };
    let upper_is_sensor = resistor_ohm / (resistor_ohm + branch);
    reference_ratio
        * if on_supply_side {
            upper_is_sensor
        } else {
            1.0 - upper_is_sensor
        }
}

/// A whole sensing chain in f64: what a code means, by the formulas above.
///
/// Built from the plain numbers of a design, not from the shipped types' methods.
#[derive(Clone, Debug)]
pub struct Truth {
    curve: Curve,
    on_supply_side: bool,
    resistor_ohm: f64,
    series_ohm: f64,
    parallel_ohm: f64,
    reference_ratio: f64,
    steps: f64,
    last_code: f64,
}

#[derive(Clone, Debug)]
enum Curve {
    Beta(f64, f64),
    SteinhartHart(f64, f64, f64),
    Platinum(f64),
    /// Points interpolate in a way that is the project's own choice, so there is no second source to compare
    /// with: the oracle asks the shipped curve.
    Points(sensor_math::curve::Points),
}

impl Truth {
    /// From the shipped crate's description of a chain.
    #[must_use]
    pub fn new(sensor: &sensor_math::Sensor) -> Self {
        use sensor_math::adc::{FullScale, Reference};
        use sensor_math::curve::Curve as Shipped;
        let curve = match sensor.curve {
            Shipped::Beta(c) => Curve::Beta(c.r25_ohm, c.beta_kelvin),
            Shipped::SteinhartHart(c) => Curve::SteinhartHart(c.a, c.b, c.c),
            Shipped::Platinum(c) => Curve::Platinum(c.r0_ohm),
            Shipped::Points(c) => Curve::Points(c),
        };
        let codes = f64::from(1u32 << sensor.adc.bits);
        Self {
            curve,
            on_supply_side: sensor.divider.side == sensor_math::divider::Side::Supply,
            resistor_ohm: sensor.divider.resistor_ohm,
            series_ohm: sensor.divider.series_ohm,
            parallel_ohm: sensor.divider.parallel_ohm.unwrap_or(f64::INFINITY),
            reference_ratio: match sensor.adc.reference {
                Reference::Ratiometric => 1.0,
                Reference::Fixed {
                    reference_volts,
                    supply_volts,
                } => supply_volts / reference_volts,
            },
            steps: match sensor.adc.full_scale {
                FullScale::Codes => codes,
                FullScale::LastCode => codes - 1.0,
            },
            last_code: codes - 1.0,
        }
    }

    fn ohm(&self, celsius: f64) -> f64 {
        match &self.curve {
            Curve::Beta(r25, beta) => beta_ohm(*r25, *beta, celsius),
            Curve::SteinhartHart(a, b, c) => steinhart_hart_ohm(*a, *b, *c, celsius),
            Curve::Platinum(r0) => platinum_ohm(*r0, celsius),
            Curve::Points(points) => points.ohm_at(celsius),
        }
    }

    /// Position on the code scale at a temperature: 17.4 is 40 % into code 17.
    #[must_use]
    pub fn position(&self, celsius: f64) -> f64 {
        let share = divider_share(
            self.ohm(celsius),
            self.resistor_ohm,
            self.on_supply_side,
            self.series_ohm,
            self.parallel_ohm,
            self.reference_ratio,
        );
        share * self.steps
    }

    /// Temperature at the middle of a code, degC.
    #[must_use]
    pub fn celsius(&self, code: u16) -> f64 {
        let share = ((f64::from(code.min(self.last_code as u16)) + 0.5)
            / self.steps
            / self.reference_ratio)
            .clamp(1e-9, 1.0 - 1e-9);
        // the branch with the sensor over the fixed resistor
        let branch = if self.on_supply_side {
            self.resistor_ohm * (1.0 / share - 1.0)
        } else {
            self.resistor_ohm * share / (1.0 - share)
        };
        let across = (branch - self.series_ohm).max(1e-6);
        let ohm = if self.parallel_ohm.is_finite() {
            across * self.parallel_ohm / (self.parallel_ohm - across).max(1e-6)
        } else {
            across
        };
        match &self.curve {
            Curve::Beta(r25, beta) => beta_celsius(*r25, *beta, ohm),
            Curve::SteinhartHart(a, b, c) => steinhart_hart_celsius(*a, *b, *c, ohm),
            Curve::Platinum(r0) => platinum_celsius(*r0, ohm),
            Curve::Points(points) => points.celsius_at(ohm),
        }
    }
}
