//! A fan from a demand: stall floor, spin-up, stop threshold, airflow linearisation, slew.
//!
//! Below some duty a fan stalls; at rest it needs a push before it turns at a duty that would
//! keep it turning; and an ear hears changes of speed better than speed. [`Fan::demand`] runs once
//! a sample, [`Fan::tick`] at the output's own rate, which is what the spin-up counts in.
//!
//! | phase | entered when | duty that [`Fan::tick`] gives |
//! |---|---|---|
//! | stopped | power-on; demand at or below `stop` | off |
//! | spin-up | stopped, and demand at or above `start` (with [`Stop::Never`]: any demand) | the greater of level and target, for `ticks` ticks |
//! | running | spin-up over | the target: never below the floor |
//! | safe | [`Fan::safe`] | full, until the next demand |
//!
//! The target is `max(airflow(demand), floor)`, reached by at most `rise` up or `fall` down a
//! sample. All of it preserves order: from equal states, more demand never gives less duty while
//! both fans are in the same phase.
//!
//! The law's own lower limit should be the floor, so that the integrator never winds below what
//! the fan can do; the drive holds the floor all the same.

use crate::duty::Duty;

mod config;
pub use config::{Airflow, FanConfig, FanError, FanParts, Slew, SpinUp, Stop};

/// What a fan is doing (the table in the module head).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Phase {
    /// Off, and staying off until the demand reaches the start threshold.
    #[default]
    Stopped,
    /// Being pushed into motion.
    SpinUp,
    /// Turning, at or above the floor.
    Running,
    /// At full duty because something is wrong.
    Safe,
}

/// The state of one fan: 6 bytes. Starts [`Phase::Stopped`] with no duty.
///
/// ```
/// use controller_core::drive::fan::{Fan, FanConfig, FanParts, Phase, Slew, SpinUp, Stop};
/// use controller_core::duty::Duty;
///
/// // the rack of a storage server beside a recording room: never stop, hush every change
/// const FAN: FanConfig = FanConfig::constant(FanParts {
///     floor: Duty::fraction(0.2),
///     spin_up: SpinUp { level: Duty::fraction(0.6), ticks: 2 },
///     stop: Stop::Never,
///     airflow: None,
///     slew: Slew { rise: 656, fall: 328 }, // 2 % up, 1 % down a sample
/// });
/// let mut fan = Fan::new();
/// fan.demand(&FAN, Duty::OFF);
/// assert_eq!(fan.tick(&FAN), Duty::fraction(0.6)); // the push
/// assert_eq!(fan.tick(&FAN), Duty::fraction(0.6));
/// assert_eq!(fan.tick(&FAN), Duty::fraction(0.2)); // at the floor, never below it
/// fan.safe(&FAN);
/// assert_eq!((fan.phase(), fan.tick(&FAN)), (Phase::Safe, Duty::FULL));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fan {
    target: Duty,
    ticks_left: u16,
    phase: Phase,
}

impl Fan {
    /// A fan at rest, as at power-on.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            target: Duty::OFF,
            ticks_left: 0,
            phase: Phase::Stopped,
        }
    }

    /// Takes one sample's demand and gives the duty that now applies (spin-up included), so that
    /// the law may track it. Call once a sample.
    ///
    /// The target after it is off (stopped) or within `floor ..= ONE`. Leaving the safe state, the
    /// target comes down from full at the slew's rate; a push that the safe state cut short is
    /// completed first.
    #[inline]
    pub fn demand(&mut self, config: &FanConfig, demand: Duty) -> Duty {
        match self.phase {
            Phase::Stopped => {
                if !config.stop().starts_at(demand) {
                    return Duty::OFF;
                }
                // From rest there is no speed to slew from: the push is heard anyway.
                self.target = config.wanted(demand);
                self.begin_push(config);
                return self.applied(config);
            }
            Phase::Running if config.stop().stops_at(demand) => {
                self.phase = Phase::Stopped;
                self.target = Duty::OFF;
                return Duty::OFF;
            }
            Phase::Safe if self.ticks_left == 0 => self.phase = Phase::Running,
            Phase::Safe => self.phase = Phase::SpinUp,
            Phase::SpinUp | Phase::Running => {}
        }
        self.approach(config, demand);
        self.applied(config)
    }

    /// The duty to put out for this tick of the output, counting a spin-up down. Call at the
    /// output's own rate.
    #[inline]
    pub fn tick(&mut self, config: &FanConfig) -> Duty {
        let duty = self.applied(config);
        if self.ticks_left != 0 {
            self.ticks_left -= 1;
            if self.ticks_left == 0 && self.phase == Phase::SpinUp {
                self.phase = Phase::Running;
            }
        }
        duty
    }

    /// The duty that [`Fan::tick`] would give now, without counting.
    #[must_use]
    #[inline]
    pub fn applied(&self, config: &FanConfig) -> Duty {
        match self.phase {
            Phase::Stopped => Duty::OFF,
            Phase::SpinUp if self.target.bits() < config.spin_up().level.bits() => {
                config.spin_up().level
            }
            Phase::SpinUp | Phase::Running => self.target,
            Phase::Safe => Duty::FULL,
        }
    }

    /// Full duty at once, past slew and spin-up. Holds until the next [`Fan::demand`].
    #[inline]
    pub fn safe(&mut self, config: &FanConfig) {
        if self.phase == Phase::Stopped {
            self.ticks_left = config.spin_up().ticks;
        }
        self.phase = Phase::Safe;
        self.target = Duty::FULL;
    }

    /// Pushes the fan again, as after a stall that the tachometer saw. No effect in the safe
    /// state, where the fan is at full duty already.
    #[inline]
    pub fn push(&mut self, config: &FanConfig) {
        if self.phase != Phase::Safe {
            if self.phase == Phase::Stopped {
                self.target = config.floor();
            }
            self.begin_push(config);
        }
    }

    /// Whether a push is in progress (in the safe state too, where it began from rest).
    #[must_use]
    #[inline]
    pub const fn pushed(&self) -> bool {
        self.ticks_left != 0
    }

    /// What the fan is doing.
    #[must_use]
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    fn begin_push(&mut self, config: &FanConfig) {
        self.ticks_left = config.spin_up().ticks;
        self.phase = if self.ticks_left == 0 {
            Phase::Running
        } else {
            Phase::SpinUp
        };
    }

    /// Moves the target towards what the demand wants, by at most the slew.
    fn approach(&mut self, config: &FanConfig, demand: Duty) {
        let wanted = config.wanted(demand).bits();
        let target = self.target.bits();
        // Both are within 0 ..= ONE, so the difference fits its word.
        let change = wanted.wrapping_sub(target);
        let slew = config.slew();
        let step = if change > slew.rise {
            slew.rise
        } else if change < -slew.fall {
            -slew.fall
        } else {
            change
        };
        self.target = Duty::saturating(target.wrapping_add(step));
    }
}

#[cfg(test)]
mod tests;
