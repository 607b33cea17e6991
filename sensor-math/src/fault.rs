//! What can be wrong with a reading, in one byte, and the codes that say so.
//!
//! This judges one code at a time and keeps no state. Confirmation over a stated number of samples, recovery and
//! the stuck-reading detector are the guards of the controller (`controller_core::guard::sensor` and
//! `guard::stuck`): they sit behind every kind of reading, not only this crate's. Hysteresis is here, because only
//! the codes know how near a threshold is: [`Limits::fault_after`] asks a reading that was faulty to come back into
//! the range by [`Limits::hysteresis`] codes, so that one which hovers at its end stays a fault and does not flap.

/// Sensor fault, one byte. Zero is kept free for "no fault" in records and frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum FaultCode {
    /// The sensor's wire is broken.
    Open = 1,
    /// The sensor is shorted.
    Short = 2,
    /// The code is outside the validity range, but not as far out as a broken wire or a short.
    OutOfRange = 3,
    /// The reading has not moved for longer than a live sensor could hold still.
    Stuck = 4,
}

impl FaultCode {
    /// The byte for records and frames, 1 to 4.
    pub const fn to_byte(self) -> u8 {
        self as u8
    }

    /// From the byte; `None` for a byte that is no fault.
    pub const fn from_byte(byte: u8) -> Option<Self> {
        match byte {
            1 => Some(Self::Open),
            2 => Some(Self::Short),
            3 => Some(Self::OutOfRange),
            4 => Some(Self::Stuck),
            _ => None,
        }
    }

    /// A few words for people.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Open => "sensor wire broken",
            Self::Short => "sensor shorted",
            Self::OutOfRange => "reading out of range",
            Self::Stuck => "reading stuck",
        }
    }
}

impl core::fmt::Display for FaultCode {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.text())
    }
}

/// Codes that are valid readings, and the thresholds that tell a broken wire and a short from a
/// temperature out of range. Ten bytes in memory; as a `const`, four comparisons in the code.
///
/// ```
/// use sensor_math::fault::{FaultCode, Limits};
/// const LIMITS: Limits = Limits::new(182, 931, 91, 977);   // an open wire reads low
/// assert_eq!(LIMITS.fault(500), None);
/// assert_eq!(LIMITS.fault(100), Some(FaultCode::OutOfRange));
/// assert_eq!(LIMITS.fault(3), Some(FaultCode::Open));
/// assert_eq!(LIMITS.fault(1023), Some(FaultCode::Short));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    first: u16,
    last: u16,
    low: u16,
    high: u16,
    open_is_low: bool,
}

impl Limits {
    /// Valid codes `first..=last`; a code at or beyond `open` is a broken wire, at or beyond
    /// `short` a short. One of the two is below `first`, the other above `last`.
    ///
    /// # Panics
    /// When the four are not in that order. In a `const` item, that does not compile.
    pub const fn new(first: u16, last: u16, open: u16, short: u16) -> Self {
        let open_is_low = open < short;
        let (low, high) = if open_is_low {
            (open, short)
        } else {
            (short, open)
        };
        assert!(
            low < first && first <= last && last < high,
            "fault thresholds must lie on both sides of the valid codes"
        );
        Self {
            first,
            last,
            low,
            high,
            open_is_low,
        }
    }

    /// Lowest valid code.
    pub const fn first(&self) -> u16 {
        self.first
    }

    /// Highest valid code.
    pub const fn last(&self) -> u16 {
        self.last
    }

    /// Threshold for a broken wire: that code, and every one further out, is one.
    pub const fn open(&self) -> u16 {
        if self.open_is_low {
            self.low
        } else {
            self.high
        }
    }

    /// Threshold for a short: that code, and every one further out, is one.
    pub const fn short(&self) -> u16 {
        if self.open_is_low {
            self.high
        } else {
            self.low
        }
    }

    /// Codes by which a reading must come back into the range after a fault: a 64th of it, at least 1 and
    /// never more than a quarter (common practice, no source, as long as it exceeds the noise).
    #[inline]
    pub const fn hysteresis(&self) -> u16 {
        let span = self.last.wrapping_sub(self.first);
        let share = span >> 6;
        if share > 0 {
            share
        } else if span >= 4 {
            1
        } else {
            0
        }
    }

    /// The fault of a code when the reading before was good (`faulty` false) or a fault (true). After a fault, a code
    /// within [`Limits::hysteresis`] of an end of the range is [`FaultCode::OutOfRange`] still.
    ///
    /// ```
    /// use sensor_math::fault::{FaultCode, Limits};
    /// const LIMITS: Limits = Limits::new(182, 931, 91, 977);
    /// assert_eq!(LIMITS.fault_after(185, false), None);
    /// assert_eq!(LIMITS.fault_after(185, true), Some(FaultCode::OutOfRange));
    /// assert_eq!(LIMITS.fault_after(193, true), None);
    /// ```
    #[inline]
    pub const fn fault_after(&self, code: u16, faulty: bool) -> Option<FaultCode> {
        let fault = self.fault(code);
        if faulty && fault.is_none() {
            // within the range, so neither difference wraps
            let (above, below) = (code.wrapping_sub(self.first), self.last.wrapping_sub(code));
            let margin = self.hysteresis();
            if above < margin || below < margin {
                return Some(FaultCode::OutOfRange);
            }
        }
        fault
    }

    /// The fault of a code; `None` when it is a valid reading.
    #[inline]
    pub const fn fault(&self, code: u16) -> Option<FaultCode> {
        if code >= self.first && code <= self.last {
            None
        } else if code <= self.low {
            Some(if self.open_is_low {
                FaultCode::Open
            } else {
                FaultCode::Short
            })
        } else if code >= self.high {
            Some(if self.open_is_low {
                FaultCode::Short
            } else {
                FaultCode::Open
            })
        } else {
            Some(FaultCode::OutOfRange)
        }
    }
}

#[cfg(test)]
mod tests;
