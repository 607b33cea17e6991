//! How each claim about a design's loop is known: proven, enumerated, tested, or not claimed.
//!
//! The rungs, each on the very functions that ship:
//!
//! | rung | where | reach |
//! |---|---|---|
//! | intervals | [`overflow`] | no operation wraps, for every input and state at once; milliseconds |
//! | thresholds | [`threshold`] | every (integral, error) pair of a PI loop, given its shape |
//! | samples | [`sampling`] | random cases against exact arithmetic |
//! | solvers | package `hushloop-proof` | every claim for all gains, limits, inputs and states: by certificate, or asked anew |
//! | exhaustion | its binary `prove` | every case at 8/16; every pair of every word operation |

// Ways to know
pub mod overflow;
pub mod sampling;
pub mod threshold;

// What is told
pub mod claims;

pub use claims::{Claim, Effort, How, claims};
pub use overflow::overflow_possible;
