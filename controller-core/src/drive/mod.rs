//! Drives: from the law's demand to what a pin does.
//!
//! Demand -> ([`fan`]: floor, spin-up, stop, airflow, slew) -> duty -> [`dither`] -> timer compare
//! value; or demand -> [`time_proportional`] -> on or off, for relays and mains switches.
//! [`output`] puts these together behind one trait. [`fans`] shares one demand among several fans; [`tachometer`] reads what they do; [`wiring`]
//! holds the facts of three-wire and four-wire fans.
//!
//! Every drive has a stated safe state, reached by its `safe` method at once, past every slew,
//! minimum time and stagger: full duty for cooling, off for heating.

// Demand -> duty
pub mod fan;
pub mod fans;

// Duty -> pin
pub mod dither;
pub mod time_proportional;

// All of it together
pub mod output;

// Pin -> revolutions -> what to do about them
pub mod tachometer;
pub mod wiring;

// Duty -> a pin of embedded-hal
#[cfg(feature = "embedded-hal")]
pub mod pins;
