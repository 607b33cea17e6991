//! Gains: physical numbers in the firmware's source, integers in its flash.
//!
//! A physical gain becomes a *mantissa*, an unsigned word of `n` bits at a fixed scale:
//!
//! | gain | physical unit | mantissa counts | scale |
//! |---|---|---|---|
//! | `kp` | duty fraction per kelvin | duty LSB per temperature LSB | `2^SP` |
//! | `ki` | duty fraction per kelvin and second | duty LSB per temperature LSB and sample | `2^n` |
//! | `kd` | duty fraction per kelvin a second (second per kelvin) | duty LSB per temperature LSB of `measurement - filtered` | `2^SP` |
//!
//! Full duty is `ONE = 2^(n-1) - 1` LSB, a kelvin is `2^F` temperature LSB, a period is `h` seconds, and
//! `measurement - filtered` settles at `2^K` times the change a sample, so
//!
//! ```text
//! kp = round(kp_per_kelvin * ONE / 2^F * 2^SP)
//! ki = round(ki_per_kelvin_second * h * ONE / 2^F * 2^n)
//! kd = round(kd_second_per_kelvin / (h * 2^K) * ONE / 2^F * 2^SP)
//! ```
//!
//! With this `kd` the derivative is the textbook's backward difference of `kd*s / (1 + Tf*s)` with
//! `Tf = (2^K - 1) h`: `D[j] = (1 - 2^-K) D[j-1] - kd / (h 2^K) (y[j] - y[j-1])`.
//!
//! Quantisation refuses a gain that is negative or not finite, that exceeds its word, that is not zero
//! but rounds to nothing, or that rounding would change by more than 1 %. Quantised gains can be read back.

mod form;

pub use form::{Gains, filter_exponent};

use crate::fields::{Fields, Unit, Value, Walk, Written, field};
use crate::word::Narrow;

/// Gains as the law uses them: raw unsigned integers. `kp` and `kd` are scaled by `2^SP`, `ki` by `2^n`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mantissas<N: Narrow> {
    /// Proportional gain, duty LSB per temperature LSB, times `2^SP`.
    pub kp: N::Unsigned,
    /// Integral gain, duty LSB per temperature LSB and sample, times `2^n`.
    pub ki: N::Unsigned,
    /// Derivative gain, duty LSB per temperature LSB of `measurement - filtered`, times `2^SP`.
    pub kd: N::Unsigned,
}

impl Fields for Mantissas<i16> {
    fn written(&self) -> Written {
        Written::Struct("controller_core::gain::Mantissas")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { kp, ki, kd } = *self;
        walk.value(
            &field("kp", Unit::Gain, "proportional gain"),
            Value::Word(kp),
        );
        walk.value(
            &field("ki", Unit::IntegralGain, "integral gain"),
            Value::Word(ki),
        );
        walk.value(&field("kd", Unit::Gain, "derivative gain"), Value::Word(kd));
    }
}

/// How a loop is sampled and scaled: what turns a physical gain into a mantissa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sampling {
    /// The sample period, in seconds, positive.
    pub period_s: f64,
    /// `F`: fraction bits of the temperature, 7 for `FixedI16<U7>`.
    pub temperature_fraction_bits: u32,
    /// `SP`: fraction bits of `kp` and `kd`.
    pub gain_fraction_bits: u32,
    /// `K`: the derivative filter averages over `2^K` samples; 0 for none.
    pub filter_exponent: u32,
}

/// Names a gain in an error.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// `kp`.
    Proportional,
    /// `ki`.
    Integral,
    /// `kd`.
    Derivative,
}

impl Which {
    /// `"kp"`, `"ki"` or `"kd"`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Proportional => "kp",
            Self::Integral => "ki",
            Self::Derivative => "kd",
        }
    }
}

/// Why a physical gain could not become a mantissa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GainError {
    /// Negative, infinite or not a number.
    NotAGain {
        /// Which gain.
        which: Which,
        /// Its value as given.
        value: f64,
    },
    /// Its mantissa would exceed the word.
    TooLarge {
        /// Which gain.
        which: Which,
        /// Its value as given.
        value: f64,
        /// The greatest value that fits.
        greatest: f64,
    },
    /// Not zero, but its mantissa would be, or rounding would change it by more than 1 %.
    TooCoarse {
        /// Which gain.
        which: Which,
        /// Its value as given.
        value: f64,
        /// The mantissa it would round to.
        mantissa: u64,
        /// The least value that is always accepted: 50 counts.
        least: f64,
    },
    /// The period is not positive, or a scale exceeds the word.
    Sampling,
}

impl core::fmt::Display for GainError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotAGain { which, value } => {
                write!(
                    f,
                    "{} is {value}; accepted: zero or a positive number",
                    which.name()
                )
            }
            Self::TooLarge {
                which,
                value,
                greatest,
            } => {
                write!(
                    f,
                    "{} is {value}, too large for its word; accepted at this scale: up to {greatest:.6}",
                    which.name()
                )
            }
            Self::TooCoarse {
                which,
                value,
                mantissa,
                least,
            } => write!(
                f,
                "{} is {value} and would round to {mantissa} counts, off by more than 1 %; accepted at this scale: 0, or from {least:.3e}",
                which.name()
            ),
            Self::Sampling => write!(
                f,
                "the sampling makes no sense; accepted: a positive period, temperature fraction bits below n, \
                 gain fraction bits 1 to n-1, filter exponent below n"
            ),
        }
    }
}

impl core::error::Error for GainError {}

/// Physical gains turned into mantissas, with the scales needed to read them back.
///
/// ```
/// use controller_core::gain::{Gains, Quantised, Sampling};
/// const SAMPLING: Sampling =
///     Sampling { period_s: 0.25, temperature_fraction_bits: 7, gain_fraction_bits: 8, filter_exponent: 3 };
/// // 5 % of full duty per kelvin, integral time 100 s.
/// const Q: Quantised<i16> = Quantised::<i16>::constant(Gains::standard(0.05, 100.0, 0.0), SAMPLING);
/// assert_eq!(Q.mantissas().kp, 3277); // 0.05 * 32767 / 128 * 256
/// assert!((Q.gains().kp_per_kelvin / 0.05 - 1.0).abs() < 1e-3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantised<N: Narrow> {
    mantissas: Mantissas<N>,
    sampling: Sampling,
}

/// How many counts one unit of each physical gain makes, `[kp, ki, kd]`.
const fn counts(sampling: Sampling, bits: u32) -> [f64; 3] {
    let duty_per_count =
        ((1_u64 << (bits - 1)) - 1) as f64 / (1_u64 << sampling.temperature_fraction_bits) as f64;
    let shared = duty_per_count * (1_u64 << sampling.gain_fraction_bits) as f64;
    [
        shared,
        duty_per_count * sampling.period_s * (1_u64 << bits) as f64,
        shared / (sampling.period_s * (1_u64 << sampling.filter_exponent) as f64),
    ]
}

const fn mantissa(which: Which, value: f64, counts: f64, bits: u32) -> Result<u64, GainError> {
    if !value.is_finite() || value < 0.0 {
        return Err(GainError::NotAGain { which, value });
    }
    let greatest = (1_u64 << bits) - 1;
    let exact = value * counts;
    // Beyond this the conversion below would no longer be exact.
    if exact >= greatest as f64 + 0.5 {
        return Err(GainError::TooLarge {
            which,
            value,
            greatest: greatest as f64 / counts,
        });
    }
    let mantissa = (exact + 0.5) as u64;
    let error = mantissa as f64 - exact;
    if error > 0.01 * exact || -error > 0.01 * exact {
        return Err(GainError::TooCoarse {
            which,
            value,
            mantissa,
            least: 50.0 / counts,
        });
    }
    Ok(mantissa)
}

macro_rules! quantised {
    ($narrow:ty, $unsigned:ty) => {
        impl Quantised<$narrow> {
            /// Quantises physical gains.
            ///
            /// # Errors
            /// [`GainError`] names the gain, its value and what would be accepted.
            pub const fn new(gains: Gains, sampling: Sampling) -> Result<Self, GainError> {
                const BITS: u32 = <$narrow>::BITS;
                // `!(a > b)` also catches what is not a number.
                #[allow(clippy::neg_cmp_op_on_partial_ord)]
                if !(sampling.period_s > 0.0)
                    || !sampling.period_s.is_finite()
                    || sampling.temperature_fraction_bits >= BITS
                    || sampling.gain_fraction_bits < 1
                    || sampling.gain_fraction_bits >= BITS
                    || sampling.filter_exponent >= BITS
                {
                    return Err(GainError::Sampling);
                }
                let [p, i, d] = counts(sampling, BITS);
                let kp = match mantissa(Which::Proportional, gains.kp_per_kelvin, p, BITS) {
                    Ok(mantissa) => mantissa as $unsigned,
                    Err(error) => return Err(error),
                };
                let ki = match mantissa(Which::Integral, gains.ki_per_kelvin_second, i, BITS) {
                    Ok(mantissa) => mantissa as $unsigned,
                    Err(error) => return Err(error),
                };
                let kd = match mantissa(Which::Derivative, gains.kd_second_per_kelvin, d, BITS) {
                    Ok(mantissa) => mantissa as $unsigned,
                    Err(error) => return Err(error),
                };
                Ok(Self {
                    mantissas: Mantissas { kp, ki, kd },
                    sampling,
                })
            }

            /// The same for a `const` item: a gain that cannot be represented does not compile.
            ///
            /// # Panics
            /// When [`Quantised::new`] would refuse; in a `const` item that is a compile error.
            ///
            /// ```compile_fail,E0080
            /// use controller_core::gain::{Gains, Quantised, Sampling};
            /// const SAMPLING: Sampling =
            ///     Sampling { period_s: 0.25, temperature_fraction_bits: 7, gain_fraction_bits: 8, filter_exponent: 3 };
            /// // An integral gain that rounds to nothing.
            /// const Q: Quantised<i16> = Quantised::<i16>::constant(Gains::parallel(0.05, 1e-9, 0.0), SAMPLING);
            /// # let _ = Q;
            /// ```
            #[must_use]
            pub const fn constant(gains: Gains, sampling: Sampling) -> Self {
                match Self::new(gains, sampling) {
                    Ok(quantised) => quantised,
                    Err(GainError::NotAGain { .. }) => {
                        panic!("a gain is negative, infinite or not a number")
                    }
                    Err(GainError::TooLarge { .. }) => panic!(
                        "a gain is too large for its word: lower it or its fraction bits (SP)"
                    ),
                    Err(GainError::TooCoarse { .. }) => {
                        panic!("a gain is not zero but rounds to nothing or by more than 1 %")
                    }
                    Err(GainError::Sampling) => {
                        panic!("sampling: a positive period and scales within the word are needed")
                    }
                }
            }

            /// The integers for [`crate::law::Settings`].
            #[must_use]
            pub const fn mantissas(&self) -> Mantissas<$narrow> {
                self.mantissas
            }

            /// The scales they were made with.
            #[must_use]
            pub const fn sampling(&self) -> Sampling {
                self.sampling
            }

            /// The physical gains that the integers stand for.
            #[must_use]
            pub const fn gains(&self) -> Gains {
                let [p, i, d] = counts(self.sampling, <$narrow>::BITS);
                Gains {
                    kp_per_kelvin: self.mantissas.kp as f64 / p,
                    ki_per_kelvin_second: self.mantissas.ki as f64 / i,
                    kd_second_per_kelvin: self.mantissas.kd as f64 / d,
                }
            }
        }
    };
}
quantised!(i8, u8);
quantised!(i16, u16);
quantised!(i32, u32);

#[cfg(test)]
mod tests;
