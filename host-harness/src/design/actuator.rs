//! `[fan]` and `[heater]`: what the demand drives.

use controller_core::drive::dither::{DitherConfig, Polarity};
use controller_core::drive::time_proportional::TimeProportionalConfig;
use controller_core::drive::wiring::Wiring;
use controller_core::duty::Duty;

use super::control::duty_word;
use super::document::Section;
use super::keys as q;

/// Output tick of a PWM pin, seconds: spin-up times in hundredths of a second are as fine as a fan can feel.
pub const FAN_TICK_S: f64 = 0.01;

/// What the demand drives.
#[derive(Clone, Debug, PartialEq)]
pub enum Actuator {
    /// Fans on a PWM output; cooling.
    Fan(FanDesign),
    /// A heater on a switched output; heating.
    Heater(HeaterDesign),
}

impl Actuator {
    /// Output tick, seconds: a hundredth of one for a PWM pin, half a mains cycle for a switched heater.
    #[must_use]
    pub fn tick_s(&self) -> f64 {
        match self {
            Self::Heater(heater) if heater.pwm.is_none() => 0.5 / heater.mains_hz,
            Self::Fan(_) | Self::Heater(_) => FAN_TICK_S,
        }
    }

    /// Pulses a second of the connected tachometer at full speed; 0 without one.
    #[must_use]
    pub fn full_pulses_s(&self) -> f64 {
        match self {
            Self::Fan(fan) => fan.full_pulses_s(),
            Self::Heater(_) => 0.0,
        }
    }
}

/// Fans.
#[derive(Clone, Debug, PartialEq)]
pub struct FanDesign {
    /// Number of fans on the same demand.
    pub count: u32,
    /// Lowest duty ever applied, share of full.
    pub floor: f64,
    /// Duty of the starting push, share of full.
    pub spin_up: f64,
    /// Its length, seconds.
    pub spin_up_s: f64,
    /// Fastest change of duty, share of full per second.
    pub slew_per_s: f64,
    /// Period of the PWM timer, counts.
    pub pwm_period_counts: u16,
    /// Frequency of the PWM, hertz.
    pub pwm_hertz: f64,
    /// Pulses of the tachometer a revolution, when one is connected.
    pub tachometer_pulses: Option<u8>,
    /// Speed at full duty, revolutions a minute.
    pub full_speed_rpm: f64,
    /// How the speed is set.
    pub wiring: Wiring,
    /// Level of the pin that drives.
    pub polarity: Polarity,
    /// Demands that stop a turning fan and start a stopped one, shares of full, when it may stop.
    pub stop: Option<(f64, f64)>,
}

impl FanDesign {
    /// The timer with the fan's floor.
    ///
    /// # Panics
    ///
    /// Never: a period that is too short is taken as the shortest.
    #[must_use]
    pub fn timer(&self) -> DitherConfig {
        DitherConfig::new(
            self.pwm_period_counts.max(DitherConfig::TOP_MIN),
            Duty::saturating(duty_word(self.floor)),
            self.polarity,
        )
        .expect("a period that is long enough")
    }

    /// The law's lower limit: the lowest duty that the timer gives exactly, which is the floor, or on a coarse timer the
    /// whole count above it; 0 for a fan that may stop.
    #[must_use]
    pub fn lowest_demand(&self) -> Duty {
        match self.stop {
            Some(_) => Duty::OFF,
            None => self.timer().exact_from(),
        }
    }

    /// Whether a tachometer is connected that tells the truth below full duty, and of a fan that always turns.
    #[must_use]
    pub fn always_watched(&self) -> bool {
        self.tachometer_pulses.is_some()
            && self.stop.is_none()
            && self.wiring != Wiring::ThreeWireChopped
    }

    /// Pulses a second of the connected tachometer at full speed; 0 without one.
    #[must_use]
    pub fn full_pulses_s(&self) -> f64 {
        self.full_speed_rpm / 60.0 * f64::from(self.tachometer_pulses.unwrap_or(0))
    }
}

/// A heater.
#[derive(Clone, Debug, PartialEq)]
pub struct HeaterDesign {
    /// Window of the time-proportional output, seconds.
    pub window_s: f64,
    /// Shortest on or off time, seconds.
    pub minimum_s: f64,
    /// Highest duty, share of full.
    pub limit: f64,
    /// Mains frequency, hertz.
    pub mains_hz: f64,
    /// The PWM pin, when it is one.
    pub pwm: Option<HeaterPwm>,
}

/// The PWM pin of a heater behind a transistor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeaterPwm {
    /// Period of the timer, counts.
    pub period_counts: u16,
    /// Its frequency, hertz.
    pub hertz: f64,
    /// Level of the pin that drives.
    pub polarity: Polarity,
}

pub(super) fn read_fan(section: &Section<'_>) -> FanDesign {
    let fan = FanDesign {
        count: section.whole(&q::FAN_COUNT),
        floor: section.number(&q::FAN_FLOOR) / 100.0,
        spin_up: section.number(&q::FAN_SPIN_UP) / 100.0,
        spin_up_s: section.number(&q::FAN_SPIN_UP_TIME),
        slew_per_s: section.number(&q::FAN_SLEW) / 100.0,
        pwm_period_counts: section.whole(&q::PWM_COUNTS) as u16,
        pwm_hertz: section.number(&q::PWM_RATE),
        tachometer_pulses: section
            .optional_whole(&q::FAN_PULSES)
            .map(|pulses| pulses as u8),
        full_speed_rpm: section.number(&q::FAN_FULL_RPM),
        wiring: section.choice(&q::FAN_WIRING).unwrap_or(Wiring::FourWire),
        polarity: section.choice(&q::FAN_ACTIVE).unwrap_or_default(),
        stop: read_stop(section),
    };
    if section.is_present() && fan.spin_up < fan.floor {
        section.problem(
            &q::FAN_SPIN_UP,
            &format!("= {} is below the floor", q::plain(fan.spin_up * 100.0)),
            &format!("at least floor_percent = {}", q::plain(fan.floor * 100.0)),
        );
    }
    section.finish();
    fan
}

/// Both thresholds of a fan that may stop, or neither.
fn read_stop(section: &Section<'_>) -> Option<(f64, f64)> {
    let stop = section.optional(&q::FAN_STOP);
    let start = section.optional(&q::FAN_RESTART);
    match (stop, start) {
        (Some(stop), Some(start)) if start > stop => Some((stop / 100.0, start / 100.0)),
        (Some(stop), Some(start)) => {
            section.problem(
                &q::FAN_RESTART,
                &format!("= {} does not lie above stop_percent", q::plain(start)),
                &format!("more than stop_percent = {}", q::plain(stop)),
            );
            None
        }
        (Some(_), None) => {
            section.problem(
                &q::FAN_STOP,
                "says when the fan stops, and nothing when it starts again",
                "start_percent as well, above stop_percent",
            );
            None
        }
        (None, Some(_)) => {
            section.problem(
                &q::FAN_RESTART,
                "has no effect on a fan that always turns",
                "stop_percent as well, below start_percent",
            );
            None
        }
        (None, None) => None,
    }
}

/// The PWM pin of a heater; what speaks of a switch has no place beside it, nor the other way about.
fn read_pwm(section: &Section<'_>) -> Option<HeaterPwm> {
    let pwm = section.choice(&q::HEATER_OUTPUT) == Some(true);
    let given = |key: &'static q::Number| section.optional(key).is_some();
    if pwm {
        for key in [&q::HEATER_WINDOW, &q::HEATER_MINIMUM, &q::MAINS] {
            if given(key) {
                let what = "speaks of a switch, and output = \"pwm\" has none";
                section.problem(key, what, "no such key, or output = \"switch\"");
            }
        }
    } else if given(&q::HEATER_PWM_RATE) || section.optional_whole(&q::HEATER_PWM_COUNTS).is_some()
    {
        let what = "is not \"pwm\", and the file speaks of a PWM timer";
        section.problem(
            &q::HEATER_OUTPUT,
            what,
            "output = \"pwm\", or neither pwm_period_counts nor pwm_hertz",
        );
    }
    let pin = HeaterPwm {
        period_counts: section.whole(&q::HEATER_PWM_COUNTS) as u16,
        hertz: section.number(&q::HEATER_PWM_RATE),
        polarity: section.choice(&q::HEATER_ACTIVE).unwrap_or_default(),
    };
    pwm.then_some(pin)
}

pub(super) fn read_heater(section: &Section<'_>) -> HeaterDesign {
    let heater = HeaterDesign {
        window_s: section.number(&q::HEATER_WINDOW),
        minimum_s: section.number(&q::HEATER_MINIMUM),
        limit: section.number(&q::HEATER_LIMIT) / 100.0,
        mains_hz: section.number(&q::MAINS),
        pwm: read_pwm(section),
    };
    if section.is_present() && 2.0 * heater.minimum_s > heater.window_s {
        section.problem(
            &q::HEATER_MINIMUM,
            &format!("= {} does not fit twice into the window", heater.minimum_s),
            &format!("at most half of window_s = {}", heater.window_s),
        );
    }
    let half_cycles = 2.0 * (heater.window_s * heater.mains_hz).round();
    let longest = f64::from(TimeProportionalConfig::WINDOW_MAX - 1);
    if half_cycles > longest {
        section.problem(
            &q::HEATER_WINDOW,
            &format!("= {} is {half_cycles} mains half-cycles", heater.window_s),
            &format!(
                "at most {longest} half-cycles, {} s",
                longest / (2.0 * heater.mains_hz)
            ),
        );
    }
    section.finish();
    heater
}
