//! The integers of a 16/32 law: what a design is turned into, simulated with, proven about and flashed as.

use controller_core::gain::Mantissas;
use controller_core::law::{Action, Settings, SettingsError};

/// The integers of a law: all of it that reaches flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LawIntegers {
    /// Proportional mantissa, scaled `2^scale`.
    pub kp: u16,
    /// Integral mantissa, scaled `2^16`.
    pub ki: u16,
    /// Derivative mantissa, scaled `2^scale`; 0 means a PI law.
    pub kd: u16,
    /// Fraction bits of `kp` and `kd`: 4, 8 or 12.
    pub scale: u32,
    /// The derivative filter averages over `2^filter_exponent` samples, `1..=8`.
    pub filter_exponent: u32,
    /// Lower limit, duty word.
    pub lo: i16,
    /// Upper limit, duty word.
    pub hi: i16,
    /// Cooling or heating.
    pub action: Action,
}

impl LawIntegers {
    /// Its gains.
    #[must_use]
    pub fn mantissas(&self) -> Mantissas<i16> {
        Mantissas {
            kp: self.kp,
            ki: self.ki,
            kd: self.kd,
        }
    }

    /// Its settings at the scale that it names.
    ///
    /// # Errors
    /// What the law's constructor refuses.
    pub fn settings<const SP: u32>(&self) -> Result<Settings<i16, SP>, SettingsError> {
        Settings::<i16, SP>::new(self.mantissas(), self.lo, self.hi, self.action)
    }

    /// True when the law has a derivative term.
    #[must_use]
    pub fn has_derivative(&self) -> bool {
        self.kd != 0
    }
}

/// Calls `$body` with `$scale` as the constant `SP`: the scales that a design can get.
macro_rules! with_scale {
    ($scale:expr, $sp:ident => $body:expr, else $other:expr) => {
        with_scale!(@ $scale, $sp => $body, $other, 4 8 12)
    };
    (@ $scale:expr, $sp:ident => $body:expr, $other:expr, $($value:literal)*) => {
        match $scale {
            $($value => { const $sp: u32 = $value; $body })*
            _ => $other,
        }
    };
}

/// Calls `$body` with `$filter` as the constant `K`: the filters that a design can get.
macro_rules! with_filter {
    ($filter:expr, $k:ident => $body:expr, else $other:expr) => {
        with_filter!(@ $filter, $k => $body, $other, 1 2 3 4 5 6 7 8)
    };
    (@ $filter:expr, $k:ident => $body:expr, $other:expr, $($value:literal)*) => {
        match $filter {
            $($value => { const $k: u32 = $value; $body })*
            _ => $other,
        }
    };
}

pub(crate) use {with_filter, with_scale};
