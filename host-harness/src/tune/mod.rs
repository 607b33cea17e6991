//! Gains from a model of the plant: published rules, and our own choice.
//!
//! The published PI rules on plants of unit gain and unit dead time (an infinite lag is an integrator of unit slope), with the
//! integrated absolute error after a unit step of the load at the plant's input, and the least that any PI law has at the same
//! maximum sensitivity, sampled 50 times a dead time. A rule that has no stable loop there, or one with Ms above 3, is left out.
//!
#![doc = include_str!("equal_sensitivity.md")]

pub mod case;
pub mod design;
pub mod model;
pub mod optimise;
pub mod reduce;
pub mod rules;
pub mod write;
