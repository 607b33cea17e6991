//! Fault injection: everything that may go wrong with wire, chip, fan or relay, at many times of the
//! design's scenario, against the shipped station on the simulated plant.
//!
//! The injector is a stage of the ordinary pipeline (plant, converter, *injector*, thermometer, station,
//! drive, *injector*, plant), not a special simulation. A healthy run is recorded once; each case starts
//! from a moment of it.
//!
//! A case ends in one of three ways. It *passes*, it is a *violation* of what the station promises, or it is
//! *unobservable*: the actuator does not obey, or a plausible reading was false by more than the drift that
//! the design declares. No firmware can rule out the last kind; an independent cut-out is the only
//! protection, and such a case is never counted as passed, however it ended.

mod campaign;
mod catalogue;
mod injector;
mod moment;
mod stated;
mod table;

pub use campaign::{Campaign, Row, Thermometer, run_campaign, run_campaign_with};
pub use catalogue::{Fault, Trial, catalogue};
