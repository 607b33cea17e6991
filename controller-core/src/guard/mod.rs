//! Guards: small state machines that watch the chain and say when it must not be believed.
//!
//! | guard | sees | says | default answer of the station |
//! |---|---|---|---|
//! | [`sensor`] | reading or sensor fault | use, hold, fault | hold, then safe state; clears by itself |
//! | [`rate`] | reading against the one before | plausible or not | as a sensor fault |
//! | [`stale`] | ticks between samples | in time or not | safe state; clears by itself |
//! | [`stuck`] | reading and duty | moving or stuck | safe state; clears when the reading moves |
//! | [`trip`] | reading | latched or not | safe state until reset |
//! | [`hunting`] | error | hunting or not | report, or halve the gains |
//! | [`effect`] | reading and duty | the plant answers or not | safe state until it answers, or reset |
//!
//! Temperatures are raw 16-bit words of the loop's own format, duties are [`crate::duty::Duty`],
//! times are counts of samples or output ticks. No guard keeps a clock, allocates or can panic;
//! counters saturate. Each head has the truth table and the detection time; the tests walk every
//! state.
//!
//! A guard makes a loop fail in a stated way. It does not make a controller a safety device: a
//! plausible but false reading, or an actuator that does not obey, defeats any firmware. Fit an
//! independent thermal cut-out.

// Is there a reading, and may it be believed?
pub mod rate;
pub mod sensor;
pub mod stale;
pub mod stuck;

// Is the temperature safe, the loop calm, the plant obedient?
pub mod effect;
pub mod hunting;
pub mod trip;

mod alarm;
mod config;
mod error;
pub use alarm::{Alarm, Alarms};
pub use config::GuardsConfig;
pub use error::GuardError;
