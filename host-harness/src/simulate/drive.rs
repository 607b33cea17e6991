//! The shipped drive of a design, run tick by tick, giving the average duty of each sample.

use controller_core::drive::fan::{Fan, FanConfig, FanParts, Slew, SpinUp, Stop};
use controller_core::drive::time_proportional::{TimeProportional, TimeProportionalConfig, TimeProportionalParts, Unit};
use controller_core::duty::Duty;

use super::share;
use crate::design::{Actuator, Control, FanDesign, HeaterDesign};

/// Output tick of a fan drive, seconds: spin-up times in hundredths of a second are as fine as a fan can feel.
pub const FAN_TICK_S: f64 = 0.01;

/// Output tick of a design, seconds: a mains half-cycle for heaters, so that switching falls on zero crossings.
#[must_use]
pub fn tick_s(control: &Control) -> f64 {
    match &control.actuator {
        Actuator::Fan(_) => FAN_TICK_S,
        Actuator::Heater(heater) => 0.5 / heater.mains_hz,
    }
}

/// Output ticks a sample, at least 1.
#[must_use]
pub fn ticks_per_sample(control: &Control) -> u16 {
    (control.period_s / tick_s(control)).round().clamp(1.0, 65535.0) as u16
}

fn duty(share: f64) -> Duty {
    Duty::saturating((share * f64::from(i16::MAX)).round() as i16)
}

/// The parts of a design's fan drive, in its own integers.
#[must_use]
pub fn fan_parts(fan: &FanDesign, period_s: f64) -> FanParts {
    let slew = (fan.slew_per_s * period_s * f64::from(i16::MAX)).round().clamp(1.0, 32767.0) as i16;
    FanParts {
        floor: duty(fan.floor),
        spin_up: SpinUp { level: duty(fan.spin_up), ticks: (fan.spin_up_s / FAN_TICK_S).round() as u16 },
        stop: Stop::Never,
        airflow: None,
        slew: Slew { rise: slew, fall: slew },
    }
}

/// The parts of a design's time-proportional output: whole mains cycles, so that the load draws no direct current.
#[must_use]
pub fn switch_parts(heater: &HeaterDesign) -> TimeProportionalParts {
    // two ticks are one mains cycle
    let even = |seconds: f64| 2 * (seconds * heater.mains_hz).round() as u16;
    TimeProportionalParts {
        window: even(heater.window_s).max(2),
        min_on: even(heater.minimum_s),
        min_off: even(heater.minimum_s),
        unit: Unit::WholeCycle,
    }
}

enum Kind {
    Fan(Fan, FanConfig),
    Switch(TimeProportional, TimeProportionalConfig),
}

/// A drive at its start.
pub struct RunningDrive {
    kind: Kind,
    ticks: u16,
}

impl RunningDrive {
    /// The drive of a design.
    ///
    /// # Panics
    ///
    /// Never for a design that was read: its checks are the constructors' own.
    #[must_use]
    pub fn new(control: &Control) -> Self {
        let kind = match &control.actuator {
            Actuator::Fan(fan) => {
                let config = FanConfig::new(fan_parts(fan, control.period_s)).expect("checked when the design was read");
                Kind::Fan(Fan::new(), config)
            }
            Actuator::Heater(heater) => {
                let config = TimeProportionalConfig::new(switch_parts(heater)).expect("checked when the design was read");
                Kind::Switch(TimeProportional::new(), config)
            }
        };
        Self { kind, ticks: ticks_per_sample(control) }
    }

    /// Takes a sample's demand; gives the average share of full that the pin had during it.
    pub fn sample(&mut self, demand: i16) -> f64 {
        let demand = Duty::saturating(demand);
        match &mut self.kind {
            Kind::Fan(fan, config) => {
                fan.demand(config, demand);
            }
            Kind::Switch(switch, _) => switch.demand(demand),
        }
        self.ticked()
    }

    /// One sample in the safe state.
    pub fn safe(&mut self) -> f64 {
        match &mut self.kind {
            Kind::Fan(fan, config) => fan.safe(config),
            Kind::Switch(switch, config) => switch.safe(config),
        }
        self.ticked()
    }

    fn ticked(&mut self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..self.ticks {
            sum += match &mut self.kind {
                Kind::Fan(fan, config) => share(fan.tick(config).bits()),
                Kind::Switch(switch, config) => f64::from(u8::from(switch.tick(config))),
            };
        }
        sum / f64::from(self.ticks)
    }
}
