#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]
//! Measurement in, duty out, in integers: no clock, no I/O, no allocation, no panic, no division at run
//! time.

// Words: the one vocabulary the law computes in.
pub mod word;

// Set point and gains: what the operator wants, what the designer chose.
pub mod gain;
pub mod setpoint;

// Measurement -> Demand
pub mod law;

// Demand -> Duty
pub mod duty;

// Duty -> what a pin does
pub mod drive;

// Is the chain to be believed?
pub mod guard;

// All of it together: what a firmware loop calls.
pub mod station;

// What a configuration is made of, told once.
pub mod fields;

// How errors speak.
mod message;

#[cfg(test)]
extern crate std;
