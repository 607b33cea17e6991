//! The faults of a campaign.

use crate::design::{Actuator, Design};
use crate::plan::STALE_PERIODS;

/// What goes wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// The sensor's wire is broken: one end of the converter's scale.
    Open,
    /// The sensor is shorted: the other end.
    Short,
    /// The converter gives the same code for ever.
    StuckCode,
    /// Interference: codes scattered evenly up to so many on either side.
    NoiseBurst {
        /// Codes.
        codes: u16,
    },
    /// The sensor reads falsely, the error growing to its full size within `over_s`.
    Drift {
        /// Error of the reading, kelvin.
        kelvin: f64,
        /// Time to grow, seconds.
        over_s: f64,
    },
    /// The main loop does not come to its step; the output's clock goes on.
    MissingSample,
    /// Every sample comes late by so many periods.
    LateSample {
        /// Periods.
        periods: f64,
    },
    /// The output's clock stops: the pin keeps its last value.
    OutputStopped,
    /// The tachometer's wire is broken while the fan turns.
    TachometerLoss,
    /// One fan's rotor is held.
    BlockedFan {
        /// Whether it is the one whose tachometer is connected.
        watched: bool,
    },
    /// All fans' rotors are held.
    BlockedFans,
    /// The relay's contacts are welded: full power whatever the pin does.
    StuckOn,
    /// The heater's element is open: no power whatever the pin does.
    Dead,
    /// The supply fails; actuator without power; then the chip starts anew.
    BrownOut,
    /// One bit of the settings flips, in the order of the words kp, ki, kd, lo, hi.
    BitFlip {
        /// Bit number among the flips that make settings at all.
        index: usize,
    },
}

impl Fault {
    /// What people call it; rows of the table are gathered by this.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Open => "sensor wire open",
            Self::Short => "sensor shorted",
            Self::StuckCode => "code stuck",
            Self::NoiseBurst { .. } => "noise burst",
            Self::Drift { .. } => "sensor drift",
            Self::MissingSample => "samples missing",
            Self::LateSample { .. } => "samples late",
            Self::OutputStopped => "output clock stopped",
            Self::TachometerLoss => "tachometer wire open",
            Self::BlockedFan { watched: true } => "watched fan blocked",
            Self::BlockedFan { watched: false } => "other fan blocked",
            Self::BlockedFans => "all fans blocked",
            Self::StuckOn => "relay stuck on",
            Self::Dead => "heater open",
            Self::BrownOut => "brown-out, restart",
            Self::BitFlip { .. } => "bit flip in settings",
        }
    }

    /// Whether the actuator does not obey: no firmware can help, the alarm is all it can do.
    #[must_use]
    pub fn disobeys(&self) -> bool {
        matches!(
            self,
            Self::BlockedFan { .. } | Self::BlockedFans | Self::StuckOn | Self::Dead
        )
    }
}

/// A fault with its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// What goes wrong.
    pub fault: Fault,
    /// For how long, seconds; `None` to the end.
    pub lasts_s: Option<f64>,
    /// At how many of the campaign's times, one in so many.
    pub one_in: usize,
}

/// All trials of a design. `flips` is the number of bit flips that make settings at all.
#[must_use]
pub fn catalogue(design: &Design, flips: usize) -> Vec<Trial> {
    let period = design.control.period_s;
    let drift = design.sensing.facts.drift_celsius;
    let full_scale = ((1u32 << design.sensing.sensor.adc.bits) - 1) as u16;
    let one = Some(period);
    let mut out = Vec::new();
    let mut add = |fault: Fault, lengths: &[Option<f64>]| {
        out.extend(lengths.iter().map(|&lasts_s| Trial {
            fault,
            lasts_s,
            one_in: 1,
        }));
    };
    for fault in [Fault::Open, Fault::Short] {
        add(
            fault,
            &[one, Some(2.0 * period), Some(10.0), Some(300.0), None],
        );
    }
    add(Fault::StuckCode, &[Some(20.0), Some(600.0), None]);
    for codes in [full_scale / 100, full_scale / 10, full_scale] {
        add(Fault::NoiseBurst { codes }, &[one, Some(5.0), Some(120.0)]);
    }
    for kelvin in [-drift, drift] {
        for over_s in [1.0, 600.0] {
            add(Fault::Drift { kelvin, over_s }, &[None]);
        }
    }
    for kelvin in [-4.0 * drift - 4.0, 4.0 * drift + 4.0] {
        add(
            Fault::Drift {
                kelvin,
                over_s: 600.0,
            },
            &[None],
        );
    }
    add(
        Fault::MissingSample,
        &[one, Some(3.0 * period), Some(10.0), Some(300.0), None],
    );
    // within the tolerance, and half a period beyond it
    for periods in [0.5, STALE_PERIODS - 0.5] {
        add(Fault::LateSample { periods }, &[one, Some(60.0), None]);
    }
    add(Fault::OutputStopped, &[Some(300.0)]);
    add(Fault::BrownOut, &[Some(0.5), Some(5.0), Some(30.0)]);
    match &design.control.actuator {
        Actuator::Fan(fan) => {
            let watched = fan.tachometer_pulses.is_some();
            if watched {
                add(Fault::TachometerLoss, &[Some(60.0), None]);
            }
            add(Fault::BlockedFans, &[Some(60.0), None]);
            if fan.count > 1 {
                if watched {
                    add(Fault::BlockedFan { watched }, &[Some(60.0), None]);
                }
                add(Fault::BlockedFan { watched: false }, &[Some(60.0), None]);
            }
        }
        Actuator::Heater(_) => {
            add(Fault::StuckOn, &[Some(60.0), None]);
            add(Fault::Dead, &[Some(60.0), None]);
        }
    }
    out.extend((0..flips).map(|index| Trial {
        fault: Fault::BitFlip { index },
        lasts_s: None,
        one_in: 16,
    }));
    out
}
