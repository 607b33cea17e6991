//! Oracles in f64, written from the formulas and sharing no code with the two no_std crates.

pub mod exact;
pub mod law;
pub mod sensor;
