//! The converter: how a code and a divider's voltage ratio belong together.
//!
//! A code `c` stands for every input from `c` to `c + 1` code steps. Its truth is taken in the
//! middle, at `(c + 1/2)` of full scale, so that the quantisation error is never more than half
//! a step either way.

use crate::real;

/// What the largest code stands for. Data sheets use both conventions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FullScale {
    /// Full scale is `2^bits` code steps: the last code ends exactly at the reference.
    Codes,
    /// Full scale is `2^bits - 1` code steps: the last code begins exactly at the reference.
    LastCode,
}

/// What the converter compares its input with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reference {
    /// The divider's own supply: the supply cancels out.
    Ratiometric,
    /// A voltage of its own, while the divider hangs on the supply.
    Fixed {
        /// Converter reference in volts, above zero.
        reference_volts: f64,
        /// Voltage across the divider in volts, above zero.
        supply_volts: f64,
    },
}

/// An analogue-to-digital converter of [`Adc::BITS_MIN`] to [`Adc::BITS_MAX`] bits, straight binary.
///
/// ```
/// use sensor_math::adc::Adc;
/// const ADC: Adc = Adc::ratiometric(10);
/// assert_eq!(ADC.last_code(), 1023);
/// assert_eq!(ADC.ratio_at(511.5), 0.49951171875);   // code 511, at its middle
/// assert_eq!(ADC.code_at(0.5), 512);
/// assert_eq!(ADC.code_at(1.5), 1023);               // saturates
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adc {
    /// Width of a code in bits.
    pub bits: u32,
    /// Full-scale convention.
    pub full_scale: FullScale,
    /// Reference of the converter.
    pub reference: Reference,
}

impl Adc {
    /// Narrowest converter handled.
    pub const BITS_MIN: u32 = 8;
    /// Widest converter handled: a code is a `u16`.
    pub const BITS_MAX: u32 = 16;

    /// A converter on the divider's supply, full scale `2^bits`.
    pub const fn ratiometric(bits: u32) -> Self {
        Self {
            bits,
            full_scale: FullScale::Codes,
            reference: Reference::Ratiometric,
        }
    }

    /// The same converter with the other full-scale convention, `2^bits - 1`.
    pub const fn with_last_code_as_full_scale(mut self) -> Self {
        self.full_scale = FullScale::LastCode;
        self
    }

    /// The same converter with a reference of its own. Volts.
    pub const fn with_fixed_reference(mut self, reference_volts: f64, supply_volts: f64) -> Self {
        self.reference = Reference::Fixed {
            reference_volts,
            supply_volts,
        };
        self
    }

    /// Whether width and voltages are usable.
    pub const fn is_valid(&self) -> bool {
        let volts = match self.reference {
            Reference::Ratiometric => true,
            Reference::Fixed {
                reference_volts,
                supply_volts,
            } => {
                reference_volts > 0.0
                    && reference_volts < f64::INFINITY
                    && supply_volts > 0.0
                    && supply_volts < f64::INFINITY
            }
        };
        volts && self.bits >= Self::BITS_MIN && self.bits <= Self::BITS_MAX
    }

    /// The largest code, `2^bits - 1`.
    pub const fn last_code(&self) -> u16 {
        ((1u32 << self.bits) - 1) as u16
    }

    /// Code steps in full scale.
    pub const fn steps(&self) -> f64 {
        match self.full_scale {
            FullScale::Codes => (1u32 << self.bits) as f64,
            FullScale::LastCode => ((1u32 << self.bits) - 1) as f64,
        }
    }

    /// Reference over supply: 1 when ratiometric.
    pub const fn reference_ratio(&self) -> f64 {
        match self.reference {
            Reference::Ratiometric => 1.0,
            Reference::Fixed {
                reference_volts,
                supply_volts,
            } => reference_volts / supply_volts,
        }
    }

    /// Divider ratio (its voltage over its supply) at a position on the code axis. The middle of
    /// code `c` is at `c + 0.5`.
    pub const fn ratio_at(&self, position: f64) -> f64 {
        position / self.steps() * self.reference_ratio()
    }

    /// Position on the code axis of a divider ratio; the inverse of [`Adc::ratio_at`], not clamped.
    pub const fn position_at(&self, ratio: f64) -> f64 {
        ratio / self.reference_ratio() * self.steps()
    }

    /// The code read at a divider ratio, saturating at both ends.
    pub const fn code_at(&self, ratio: f64) -> u16 {
        let code = real::floor(self.position_at(ratio));
        if code < 0 {
            0
        } else if code > self.last_code() as i64 {
            self.last_code()
        } else {
            code as u16
        }
    }
}

#[cfg(test)]
mod tests;
