//! Revolutions a minute from tachometer pulses, and what to do when they stop.
//!
//! With `p` pulses a revolution ([`super::wiring::PULSES_PER_REVOLUTION`] unless the fan says
//! otherwise), `n` pulses in a window of `w` milliseconds are `n * 60 000 / (p * w)` revolutions a
//! minute; a period of `t` clocks of `f` hertz is `60 * f / (p * t)`. The first has its factor
//! computed at compile time and costs two multiplies. The second divides by the measurement, which
//! no table avoids: it runs a bounded loop of 16 subtractions and is for telemetry. Deciding that a
//! fan has stalled needs neither: it compares pulses.

use crate::message::speaks_its_message;

mod rotation;
pub use rotation::{Rotation, RotationConfig, RotationError, RotationEvent};

/// Pulses of one window to revolutions a minute.
///
/// ```
/// use controller_core::drive::tachometer::PulseWindow;
/// const SECOND: PulseWindow = PulseWindow::constant(2, 1_000);
/// assert_eq!(SECOND.rpm(100), 3_000); // 100 Hz at two pulses a revolution
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PulseWindow {
    /// Whole revolutions a minute a pulse.
    whole: u16,
    /// And 1/65 536 of one.
    part_q16: u16,
}

impl PulseWindow {
    /// For `pulses_per_revolution` of `1 ..= 16` and a window of `10 ..= 60 000` ms.
    ///
    /// # Errors
    /// [`TachometerError`] names the number that is outside its range.
    pub const fn new(pulses_per_revolution: u8, window_ms: u16) -> Result<Self, TachometerError> {
        if pulses_per_revolution < 1 || pulses_per_revolution > 16 {
            return Err(TachometerError::PulsesPerRevolution);
        }
        if window_ms < 10 || window_ms > 60_000 {
            return Err(TachometerError::Window);
        }
        let below = pulses_per_revolution as u64 * window_ms as u64;
        // Rounded, Q16.16; at most 6 000 << 16.
        let factor_q16 = ((60_000_u64 << 16) + below / 2) / below;
        Ok(Self {
            whole: (factor_q16 >> 16) as u16,
            part_q16: factor_q16 as u16,
        })
    }

    /// As [`PulseWindow::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(pulses_per_revolution: u8, window_ms: u16) -> Self {
        match Self::new(pulses_per_revolution, window_ms) {
            Ok(window) => window,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Revolutions a minute, rounded: at most 1/2 + `pulses` / 131 072 away from the exact value.
    /// Saturates at 65 535.
    #[must_use]
    #[inline]
    pub const fn rpm(&self, pulses: u16) -> u16 {
        // At most 65 535 * 6 000 + 65 535, inside 32 bits.
        let rpm = (pulses as u32 * self.whole as u32)
            .wrapping_add((pulses as u32 * self.part_q16 as u32).wrapping_add(1 << 15) >> 16);
        if rpm > u16::MAX as u32 {
            u16::MAX
        } else {
            rpm as u16
        }
    }
}

/// The period between pulses to revolutions a minute, for telemetry.
///
/// ```
/// use controller_core::drive::tachometer::PulsePeriod;
/// const TIMER: PulsePeriod = PulsePeriod::constant(2, 100_000);
/// assert_eq!(TIMER.rpm(1_000), 3_000); // 10 ms
/// assert_eq!(TIMER.rpm(0), u16::MAX); // saturates
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PulsePeriod {
    numerator: u32,
}

impl PulsePeriod {
    /// For `pulses_per_revolution` of `1 ..= 16` and a timer of `100 ..= 1 000 000` Hz.
    ///
    /// # Errors
    /// [`TachometerError`] names the number that is outside its range.
    pub const fn new(pulses_per_revolution: u8, timer_hz: u32) -> Result<Self, TachometerError> {
        if pulses_per_revolution < 1 || pulses_per_revolution > 16 {
            return Err(TachometerError::PulsesPerRevolution);
        }
        if timer_hz < 100 || timer_hz > 1_000_000 {
            return Err(TachometerError::Timer);
        }
        let pulses = pulses_per_revolution as u32;
        Ok(Self {
            numerator: (60 * timer_hz + pulses / 2) / pulses,
        })
    }

    /// As [`PulsePeriod::new`], for `const` items.
    ///
    /// # Panics
    /// Where `new` gives an error; in a `const` item that is a compile error.
    #[must_use]
    pub const fn constant(pulses_per_revolution: u8, timer_hz: u32) -> Self {
        match Self::new(pulses_per_revolution, timer_hz) {
            Ok(period) => period,
            Err(error) => panic!("{}", error.message()),
        }
    }

    /// Revolutions a minute for a period of `clocks`, rounded; saturates at 65 535. Sixteen
    /// rounds of shift and subtract, whatever the input.
    #[must_use]
    pub const fn rpm(&self, clocks: u16) -> u16 {
        let divisor = clocks as u32;
        let mut rest = self.numerator >> 16;
        if rest >= divisor {
            return u16::MAX;
        }
        let mut low = self.numerator as u16;
        let mut quotient = 0_u16;
        let mut round = 0;
        while round < 16 {
            rest = (rest << 1) | (low >> 15) as u32;
            low <<= 1;
            quotient <<= 1;
            if rest >= divisor {
                rest = rest.wrapping_sub(divisor);
                quotient |= 1;
            }
            round += 1;
        }
        if rest << 1 >= divisor && quotient != u16::MAX {
            quotient.wrapping_add(1)
        } else {
            quotient
        }
    }
}

/// Why a tachometer's numbers were refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[repr(u8)]
#[non_exhaustive]
pub enum TachometerError {
    /// Pulses a revolution out of range.
    PulsesPerRevolution,
    /// Window out of range.
    Window,
    /// Timer frequency out of range.
    Timer,
}

impl TachometerError {
    /// What was wrong and what would be accepted.
    #[must_use]
    pub const fn message(self) -> &'static str {
        match self {
            Self::PulsesPerRevolution => {
                "tachometer: pulses a revolution out of range; accepted: 1 ..= 16 (most fans: 2)"
            }
            Self::Window => "tachometer: window out of range; accepted: 10 ..= 60000 ms",
            Self::Timer => "tachometer: timer frequency out of range; accepted: 100 ..= 1000000 Hz",
        }
    }
}

speaks_its_message!(TachometerError);

#[cfg(test)]
mod tests;
