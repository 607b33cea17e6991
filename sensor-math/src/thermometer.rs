//! Code in, degrees or a fault out: what firmware calls once a sample.

use crate::fault::{FaultCode, Limits};
use crate::table::Lookup;
use fixed::FixedI16;

/// A table with the limits within which it is to be believed.
///
/// ```
/// use sensor_math::{fault::{FaultCode, Limits}, table::Uniform, thermometer::Thermometer};
/// use fixed::{types::extra::U7, FixedI16};
/// // What the host program emits: integers only.
/// const TABLE: Uniform<[i16; 3], 3, U7> = Uniform::from_knots(100, 115, [2560, 2816, 3200]);
/// static PROBE: Thermometer<Uniform<[i16; 3], 3, U7>> =
///     Thermometer::new(TABLE, Limits::new(100, 115, 50, 200));
/// assert_eq!(PROBE.read(104), Ok(FixedI16::<U7>::lit("21")));
/// assert_eq!(PROBE.read(0), Err(FaultCode::Open));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermometer<T> {
    table: T,
    limits: Limits,
}

impl<T> Thermometer<T> {
    /// From a table and the limits of validity.
    pub const fn new(table: T, limits: Limits) -> Self {
        Self { table, limits }
    }

    /// The table.
    pub const fn table(&self) -> &T {
        &self.table
    }

    /// The limits of validity.
    pub const fn limits(&self) -> &Limits {
        &self.limits
    }
}

impl<T: Lookup> Thermometer<T> {
    /// Temperature in degrees Celsius, with the table's fraction bits.
    ///
    /// # Errors
    /// A fault for every code outside the limits; nothing is ever extrapolated.
    #[inline]
    pub fn read(&self, code: u16) -> Result<FixedI16<T::Frac>, FaultCode> {
        self.read_after(code, false)
    }

    /// The same with hysteresis: after a fault (`faulty`, such as the controller's confirmed one) the code must come
    /// back into the range by [`Limits::hysteresis`] codes, so that a reading which hovers at an end does not flap.
    ///
    /// # Errors
    /// As [`Thermometer::read`], and [`FaultCode::OutOfRange`] for a code that is not back far enough.
    #[inline]
    pub fn read_after(&self, code: u16, faulty: bool) -> Result<FixedI16<T::Frac>, FaultCode> {
        match self.limits.fault_after(code, faulty) {
            None => Ok(FixedI16::from_bits(self.table.lookup(code))),
            Some(fault) => Err(fault),
        }
    }
}
