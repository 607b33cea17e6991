#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]
//! Skeleton.

// Demand -> Duty
pub mod duty;

// Duty -> what a pin does
pub mod drive;

#[cfg(test)]
extern crate std;
