//! 16-bit MSP430 without a multiplier: multiplies by shifts and additions, and the helper routines of its ABI.

#[cfg(feature = "helpers")]
mod helpers;
mod multiply;
pub use multiply::Multiply16;
