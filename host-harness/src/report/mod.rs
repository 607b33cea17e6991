//! The report: one self-contained HTML page a design, to read on the bench and to file with the hardware.

mod page;
mod verdict;
pub(crate) use page::CAUTIONS;
pub mod plot;

pub use page::{Page, page};
