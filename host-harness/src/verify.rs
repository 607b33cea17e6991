//! How each claim about a design's loop is known: proven, enumerated, tested, or not claimed.
//!
//! The rungs, each on the very functions that ship:
//!
//! | rung | module | reach |
//! |---|---|---|
//! | intervals | [`overflow`] | no operation wraps, for every input and state at once; milliseconds |
//! | thresholds | [`threshold`] | every (integral, error) pair of a PI loop, given its shape |
//! | samples | [`sampling`] | random cases against exact arithmetic |
//! | exhaustion | [`exhaust`] | every case at 8/16; every pair of every word operation |
//! | solvers | [`solve`] | every claim for all gains, limits, inputs and states |

// Words and expressions
pub mod expression;
pub mod fork;
pub mod interval;
pub mod symbol;

// Claims
pub mod catalogue;
pub mod planted;
pub mod property;
pub mod shapers;
pub mod switching;
pub mod variation;

// Ways to know
pub mod exhaust;
pub mod overflow;
pub mod sampling;
pub mod smt;
pub mod solve;
pub mod threshold;

#[cfg(test)]
mod overflow_forms;
#[cfg(test)]
mod words;

// What is told
pub mod claims;

pub use claims::{Claim, Effort, How, claims};
pub use overflow::overflow_possible;
