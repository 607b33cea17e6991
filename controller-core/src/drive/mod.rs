//! Drives: from the law's demand to what a pin does.
//!
//! Demand -> ([`fan`]: floor, spin-up, stop, airflow, slew) -> duty -> [`dither`] -> timer compare
//! value; or demand -> `time_proportional` -> on or off, for relays and mains switches.
//!
//! Every drive has a stated safe state, reached by its `safe` method at once, past every slew,
//! minimum time and stagger: full duty for cooling, off for heating.

pub mod dither;
pub mod fan;
