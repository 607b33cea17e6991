//! Gains from a model of the plant: published rules, and our own choice.

pub mod model;
pub mod reduce;
pub mod rules;
