//! Figures read off a simulated response, a sample at a time and with a memory of fixed size: settling, excursions,
//! travel, cycles, saturation, alarms.
//!
//! Each is a small accumulator that knows nothing of designs, so that it can be tried on curves whose figures are
//! known in closed form.

mod alarms;
mod cycles;
mod excursion;
mod settling;
mod travel;

pub use alarms::{AlarmLog, Raised};
pub use cycles::{CycleFinder, Found, Hunting};
pub use excursion::Excursion;
pub use settling::{Here, Settled, Settling};
pub use travel::{Starts, Travel};
