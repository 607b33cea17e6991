//! Gains, limits and action of a loop, every precondition of the proofs established.

use super::Action;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};
use crate::gain::Mantissas;
use crate::word::{Model, Narrow};

/// What a law needs to know besides its state: gains, output limits, action. 12 bytes at 16/32; lives
/// in flash as a `const`, or in RAM when a station may change it.
///
/// `SP` is the number of fraction bits that `kp` and `kd` share, `1..=n-1`. Each constructor establishes
/// what the proofs assume: `kp + kd` at most [`Settings::gain_sum_max`], `0 <= lo < hi`. The gains cannot
/// be negative, because their words are unsigned: with negative gains the sum would leave its type at
/// exactly one corner, which random tests never hit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings<N: Narrow, const SP: u32> {
    pub(crate) kp: N::Unsigned,
    pub(crate) ki: N::Unsigned,
    pub(crate) kd: N::Unsigned,
    pub(crate) lo: N,
    pub(crate) hi: N,
    pub(crate) action: Action,
}

/// Why [`Settings`] were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SettingsError {
    /// `SP`, the fraction bits of `kp` and `kd`, must be in `1..=greatest`.
    Scale {
        /// The `SP` asked for.
        fraction_bits: u32,
        /// The greatest accepted.
        greatest: u32,
    },
    /// `kp + kd` is so large that the sum of the terms could overflow.
    GainSum {
        /// `kp + kd` as asked for.
        sum: u64,
        /// The greatest accepted.
        greatest: u64,
    },
    /// The limits must satisfy `0 <= lo < hi`.
    Limits {
        /// The lower limit asked for.
        lo: i64,
        /// The upper limit asked for.
        hi: i64,
    },
}

impl core::fmt::Display for SettingsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Scale {
                fraction_bits,
                greatest,
            } => {
                write!(
                    f,
                    "kp and kd have {fraction_bits} fraction bits; 1 to {greatest} are accepted"
                )
            }
            Self::GainSum { sum, greatest } => {
                write!(
                    f,
                    "kp + kd is {sum}; at this scale at most {greatest} is accepted, or the sum could overflow"
                )
            }
            Self::Limits { lo, hi } => {
                write!(f, "output limits {lo}..{hi}; accepted: 0 <= lo < hi")
            }
        }
    }
}

impl core::error::Error for SettingsError {}

impl<N: Narrow, const SP: u32> Settings<N, SP> {
    /// The gains as raw integers.
    #[must_use]
    #[inline]
    pub fn mantissas(&self) -> Mantissas<N> {
        Mantissas {
            kp: self.kp,
            ki: self.ki,
            kd: self.kd,
        }
    }

    /// The lower output limit, a duty word.
    #[must_use]
    #[inline(always)]
    pub fn lo(&self) -> N {
        self.lo
    }

    /// The upper output limit, a duty word.
    #[must_use]
    #[inline(always)]
    pub fn hi(&self) -> N {
        self.hi
    }

    /// Direct (cooling) or reverse (heating).
    #[must_use]
    #[inline(always)]
    pub fn action(&self) -> Action {
        self.action
    }

    /// For proofs only: settings that nothing has checked, on words that stand for many values.
    #[must_use]
    pub fn assumed(mantissas: Mantissas<N>, lo: N, hi: N, action: Action) -> Self
    where
        N: Model,
    {
        Self {
            kp: mantissas.kp,
            ki: mantissas.ki,
            kd: mantissas.kd,
            lo,
            hi,
            action,
        }
    }
}

impl<const SP: u32> Fields for Settings<i16, SP> {
    fn written(&self) -> Written {
        Written::Call("controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self {
            kp,
            ki,
            kd,
            lo,
            hi,
            action,
        } = *self;
        let gains = Mantissas { kp, ki, kd };
        walk.group(&labelled("mantissas", "", Unit::Group, "the gains"), &gains);
        walk.value(
            &labelled("lo", "duty_low", Unit::Duty, "lower limit of the demand"),
            Value::Signed(lo),
        );
        walk.value(
            &labelled("hi", "duty_high", Unit::Duty, "upper limit of the demand"),
            Value::Signed(hi),
        );
        let (path, code) = match action {
            Action::Direct => ("controller_core::law::Action::Direct", 1),
            Action::Reverse => ("controller_core::law::Action::Reverse", 2),
        };
        walk.value(
            &field("action", Unit::Choice, "1 cools, 2 heats"),
            Value::Choice(path, code),
        );
        walk.parameter(
            &field(
                "gain_fraction_bits",
                Unit::Number,
                "fraction bits of kp and kd",
            ),
            Value::Byte(SP as u8),
        );
    }
}

macro_rules! settings {
    ($narrow:ty, $example:literal) => {
        impl<const SP: u32> Settings<$narrow, SP> {
            /// The greatest `kp + kd` for which no sum can overflow, `(2^(2n-1) - 2^(n-1+SP)) / (2^(n-1) - 1)`:
            /// each of the two products is at most its gain times `2^(n-1) - 1`, and the integrator at this
            /// scale is below `2^(n-1+SP)`.
            #[must_use]
            pub const fn gain_sum_max() -> u64 {
                const N: u32 = <$narrow>::BITS;
                assert!(SP >= 1 && SP < N, "kp and kd need 1 to n-1 fraction bits");
                (((1_u128 << (2 * N - 1)) - (1 << (N - 1 + SP))) / ((1 << (N - 1)) - 1)) as u64
            }

            /// Checks and makes settings.
            ///
            /// # Errors
            /// [`SettingsError`] names the first precondition that does not hold.
            ///
            /// ```
            /// use controller_core::{gain::Mantissas, law::{Action, Settings, SettingsError}};
            #[doc = $example]
            /// let gains = Mantissas { kp: 100, ki: 65, kd: 0 };
            /// assert!(S::new(gains, 20, 120, Action::Direct).is_ok());
            /// assert_eq!(S::new(gains, 120, 20, Action::Direct), Err(SettingsError::Limits { lo: 120, hi: 20 }));
            /// ```
            pub const fn new(
                mantissas: Mantissas<$narrow>,
                lo: $narrow,
                hi: $narrow,
                action: Action,
            ) -> Result<Self, SettingsError> {
                let greatest = <$narrow>::BITS - 1;
                if SP < 1 || SP > greatest {
                    return Err(SettingsError::Scale { fraction_bits: SP, greatest });
                }
                let sum = mantissas.kp as u64 + mantissas.kd as u64;
                if sum > Self::gain_sum_max() {
                    return Err(SettingsError::GainSum { sum, greatest: Self::gain_sum_max() });
                }
                if lo < 0 || lo >= hi {
                    return Err(SettingsError::Limits { lo: lo as i64, hi: hi as i64 });
                }
                Ok(Self { kp: mantissas.kp, ki: mantissas.ki, kd: mantissas.kd, lo, hi, action })
            }

            /// The same for a `const` item: wrong settings do not compile.
            ///
            /// # Panics
            /// When [`Settings::new`] would refuse; in a `const` item that is a compile error.
            ///
            /// ```compile_fail,E0080
            /// use controller_core::{gain::Mantissas, law::{Action, Settings}};
            /// // kp + kd = 80000 could overflow the sum.
            /// const LOOP: Settings<i16, 8> = Settings::<i16, 8>::constant(
            ///     Mantissas { kp: 40_000, ki: 1, kd: 40_000 }, 0, 32_767, Action::Direct);
            /// # let _ = LOOP;
            /// ```
            #[must_use]
            pub const fn constant(mantissas: Mantissas<$narrow>, lo: $narrow, hi: $narrow, action: Action) -> Self {
                match Self::new(mantissas, lo, hi, action) {
                    Ok(settings) => settings,
                    Err(SettingsError::Scale { .. }) => panic!("kp and kd need 1 to n-1 fraction bits (SP)"),
                    Err(SettingsError::GainSum { .. }) => {
                        panic!("kp + kd is above its bound: the sum of the terms could overflow (see Settings::gain_sum_max)")
                    }
                    Err(SettingsError::Limits { .. }) => panic!("output limits must satisfy 0 <= lo < hi"),
                }
            }
        }
    };
}
settings!(i8, "type S = Settings<i8, 4>;");
settings!(i16, "type S = Settings<i16, 8>;");
settings!(i32, "type S = Settings<i32, 16>;");
