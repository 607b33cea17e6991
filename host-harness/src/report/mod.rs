//! The report: one self-contained HTML page a design, to read on the bench and to file with the hardware.

mod page;
pub mod plot;

pub use page::{Page, page};
