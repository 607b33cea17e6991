//! What sampling does to mains hum and to the ripple of the fan's PWM on the divider.

/// One disturbance after sampling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alias {
    /// Its frequency, hertz.
    pub hertz: f64,
    /// Where it appears after sampling, hertz: at 0 it is an error that stands still.
    pub alias_hertz: f64,
    /// What the mean over a burst leaves of it, 0 to 1.
    pub left: f64,
    /// Whether it needs attention: it appears within reach of the loop, and the burst leaves more than
    /// [`LEFT_MAX`] of it.
    pub critical: bool,
}

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

/// One burst of `samples` (1 for none) at `burst_hertz` every `period_s`: what becomes of a disturbance.
#[must_use]
pub fn alias(hertz: f64, period_s: f64, samples: u32, burst_hertz: f64) -> Alias {
    let alias_hertz = alias_hertz(hertz, 1.0 / period_s);
    let left = mean_leaves(hertz, samples, burst_hertz);
    let critical = alias_hertz < 1.0 / (LOOP_REACH * period_s) && left > LEFT_MAX;
    Alias {
        hertz,
        alias_hertz,
        left,
        critical,
    }
}
