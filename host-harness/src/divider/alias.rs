//! What sampling does to mains hum and to the ripple of the fan's PWM on the divider.

use crate::design::{Actuator, Burst, Control, Sensing};
use sensor_math::Sensor;

/// Something on the divider that is no temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disturbance {
    /// What it is.
    pub name: &'static str,
    /// Its frequency, hertz.
    pub hertz: f64,
    /// How far the frequency may be off, share.
    pub tolerance: f64,
}

/// One disturbance after sampling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alias {
    /// What it was.
    pub disturbance: Disturbance,
    /// Where it appears after sampling, hertz: at 0 it is an error that stands still.
    pub alias_hertz: f64,
    /// The lowest it may appear at, over the tolerance of its frequency.
    pub lowest_hertz: f64,
    /// What filter and burst leave of it at most, over that tolerance, 0 to 1.
    pub left: f64,
    /// Whether it needs attention: it may appear within reach of the loop, and more than [`LEFT_MAX`] of it
    /// is left.
    pub critical: bool,
}

/// The mains frequency wanders by this share (common practice, no source).
pub const MAINS_TOLERANCE: f64 = 0.01;
/// The frequency of a PWM from a microcontroller's own oscillator is off by this share (common practice, no
/// source).
pub const PWM_TOLERANCE: f64 = 0.02;
/// Most of a disturbance that may be left when it appears within the loop's reach (20 dB down).
pub const LEFT_MAX: f64 = 0.1;
/// The loop reacts to what is slower than this many of its periods; a tenth of the sample rate and
/// slower (common practice, no source).
pub const LOOP_REACH: f64 = 10.0;

/// Where a frequency appears after sampling at a rate, both in hertz: its distance to the nearest
/// multiple of the rate.
///
/// ```
/// use host_harness::divider::alias::alias_hertz;
/// assert_eq!(alias_hertz(50.0, 4.0), 2.0);
/// assert_eq!(alias_hertz(50.0, 10.0), 0.0);
/// ```
#[must_use]
pub fn alias_hertz(hertz: f64, rate: f64) -> f64 {
    (hertz - (hertz / rate).round() * rate).abs()
}

/// What the mean of `samples` samples taken at `rate` leaves of a frequency:
/// `|sin(pi f n / r) / (n sin(pi f / r))|`, the length of the Dirichlet kernel (exact mathematics).
///
/// ```
/// use host_harness::divider::alias::mean_leaves;
/// assert!(mean_leaves(50.0, 16, 800.0) < 1e-12);        // a whole mains cycle
/// assert_eq!(mean_leaves(800.0, 16, 800.0), 1.0);       // every sample at the same phase
/// ```
#[must_use]
pub fn mean_leaves(hertz: f64, samples: u32, rate: f64) -> f64 {
    let n = f64::from(samples);
    let turn = std::f64::consts::PI * hertz / rate;
    let bottom = n * turn.sin();
    // At multiples of the rate all samples see the same phase.
    if bottom.abs() < 1e-9 {
        1.0
    } else {
        ((n * turn).sin() / bottom).abs()
    }
}

/// What a capacitor at the converter's input leaves of a frequency: `1 / sqrt(1 + (2 pi f R C)^2)`, the
/// first-order low-pass of the divider's source resistance.
#[must_use]
pub fn filter_leaves(hertz: f64, source_ohm: f64, farad: f64) -> f64 {
    1.0 / (std::f64::consts::TAU * hertz * source_ohm * farad).hypot(1.0)
}

/// Frequencies tried over a tolerance.
const TRIED: u32 = 200;

/// A reading every `period_s`, each the mean of a burst, behind a source resistance and a capacitor: what becomes of
/// a disturbance.
#[must_use]
pub fn alias(
    disturbance: Disturbance,
    period_s: f64,
    burst: Burst,
    source_ohm: f64,
    farad: f64,
) -> Alias {
    let Disturbance {
        hertz, tolerance, ..
    } = disturbance;
    let alias_hertz = alias_hertz(hertz, 1.0 / period_s);
    let lowest_hertz = (alias_hertz - hertz * tolerance).max(0.0);
    let (low, high) = (hertz * (1.0 - tolerance), hertz * (1.0 + tolerance));
    let multiple = (high / burst.hertz).floor() * burst.hertz;
    let burst_leaves = if burst.samples == 1 || multiple >= low {
        1.0 // some frequency of the band meets every conversion at the same phase
    } else {
        (0..=TRIED)
            .map(|i| low + (high - low) * f64::from(i) / f64::from(TRIED))
            .map(|hertz| mean_leaves(hertz, burst.samples, burst.hertz))
            .fold(0.0, f64::max)
    };
    let left = burst_leaves * filter_leaves(low, source_ohm, farad);
    Alias {
        disturbance,
        alias_hertz,
        lowest_hertz,
        left,
        critical: lowest_hertz < 1.0 / (LOOP_REACH * period_s) && left > LEFT_MAX,
    }
}

/// Resistance that a filter capacitor sees, the smallest over the range: sensor network and fixed resistor side
/// by side.
fn source_ohm(sensor: &Sensor, low_celsius: f64, high_celsius: f64) -> f64 {
    let at = |celsius: f64| {
        let network = sensor.divider.network_ohm(sensor.curve.ohm_at(celsius));
        let fixed = sensor.divider.resistor_ohm;
        network * fixed / (network + fixed)
    };
    at(low_celsius).min(at(high_celsius))
}

/// Mains hum, once and twice its frequency, and the fan's PWM, as a design samples them. Where a heater names its
/// mains, that one; both that are in use otherwise.
#[must_use]
pub fn aliases(sensing: &Sensing, control: &Control) -> Vec<Alias> {
    let mains = |hertz: f64| {
        [("mains hum", hertz), ("mains hum, rectified", 2.0 * hertz)].map(|(name, hertz)| {
            Disturbance {
                name,
                hertz,
                tolerance: MAINS_TOLERANCE,
            }
        })
    };
    let with_pwm = |name, hertz| {
        let pwm = Disturbance {
            name,
            hertz,
            tolerance: PWM_TOLERANCE,
        };
        [&mains(50.0)[..], &mains(60.0)[..], &[pwm]].concat()
    };
    let disturbances: Vec<Disturbance> = match &control.actuator {
        Actuator::Heater(heater) => match heater.pwm {
            Some(pwm) => with_pwm("heater's PWM", pwm.hertz),
            None => mains(heater.mains_hz).to_vec(),
        },
        Actuator::Fan(fan) => with_pwm("fan's PWM", fan.pwm_hertz),
    };
    let table = &sensing.table;
    let source = source_ohm(&sensing.sensor, table.low_celsius, table.high_celsius);
    let facts = &sensing.facts;
    disturbances
        .into_iter()
        .map(|d| alias(d, control.period_s, facts.burst, source, facts.filter_farad))
        .collect()
}
