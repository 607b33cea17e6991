//! 8-bit AVR: multiplies, reads from flash, copies and fills.

pub(crate) mod flash;
#[cfg(feature = "helpers")]
mod helpers;
mod multiply;
pub use multiply::Multiply16;
