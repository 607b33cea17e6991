//! Whole drives, from a demand to what a pin is given, behind one trait that the station needs.
//!
//! | drive | output of a tick | safe state |
//! |---|---|---|
//! | [`FanDrive`] | a compare value for each fan | full duty on all |
//! | [`PwmHeaterDrive`] | a compare value | off |
//! | [`SwitchedHeaterDrive`] | on or off | off |

use super::dither::{Dither, DitherConfig};
use super::fan::{Fan, Phase};
use super::fans::{Fans, FansConfig};
use super::tachometer::{Rotation, RotationConfig, RotationEvent};
use super::time_proportional::{TimeProportional, TimeProportionalConfig};
use super::wiring::Wiring;
use crate::duty::Duty;
use crate::fields::{Fields, Unit, Value, Walk, Written, field, labelled};

/// What a station asks of the actuator's side. Configuration is handed in, so that it stays in
/// flash; time is counted by the calls.
pub trait Drive {
    /// The checked configuration.
    type Config: Copy + Fields;
    /// What a tick gives to the pin or pins.
    type Output;
    /// The duty of the safe state: [`Duty::FULL`] for cooling, [`Duty::OFF`] for heating.
    const SAFE: Duty;

    /// The drive as at power-on.
    fn at_rest() -> Self;
    /// Takes a sample's demand. Call once a sample.
    fn demand(&mut self, config: &Self::Config, demand: Duty);
    /// What the pin is given for this tick of the output.
    fn tick(&mut self, config: &Self::Config) -> Self::Output;
    /// Goes to the safe state at once, until the next demand.
    fn safe(&mut self, config: &Self::Config);
    /// The duty that now applies.
    fn applied(&self, config: &Self::Config) -> Duty;
    /// Takes the pulses of one fan's tachometer over the last window. Drives without one ignore it.
    fn pulses(&mut self, config: &Self::Config, fan: usize, pulses: u16) {
        let _ = (config, fan, pulses);
    }
    /// Whether the drive itself knows that its actuator does not obey.
    fn failed(&self) -> bool {
        false
    }
}

/// Configuration of a [`FanDrive`]; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FanDriveConfig<const N: usize = 1> {
    /// The fans.
    pub fans: FansConfig<N>,
    /// The timer behind their pins.
    pub timer: DitherConfig,
    /// The watch on their tachometers, when they are connected: pulses over one window.
    pub tachometer: Option<RotationConfig>,
    /// How their speed is set, and so when a tachometer is to be believed.
    pub wiring: Wiring,
}

impl<const N: usize> Fields for FanDriveConfig<N> {
    // those of the fans, and what their pins share with the last of them
    const PARTS: u8 = FansConfig::<N>::PARTS;

    fn written(&self) -> Written {
        Written::Struct("controller_core::drive::output::FanDriveConfig")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W) {
        let Self {
            fans,
            timer,
            tachometer,
            wiring,
        } = self;
        walk.part(
            &labelled("fans", "fan", Unit::Group, "the fans"),
            fans,
            part,
        );
        if part.wrapping_add(1) != Self::PARTS {
            return;
        }
        let path = match wiring {
            Wiring::FourWire => "controller_core::drive::wiring::Wiring::FourWire",
            Wiring::ThreeWireChopped => "controller_core::drive::wiring::Wiring::ThreeWireChopped",
            Wiring::ThreeWireLinear => "controller_core::drive::wiring::Wiring::ThreeWireLinear",
        };
        walk.value(
            &field("wiring", Unit::Choice, "how the speed is set"),
            Value::Choice(path, *wiring as u8),
        );
        walk.group(
            &labelled("timer", "pwm", Unit::Group, "the timer behind the pins"),
            timer,
        );
        walk.option(
            &field("tachometer", Unit::Group, "the watch on rotation"),
            tachometer.as_ref(),
        );
    }
}

/// `N` fans on PWM pins: [`Fans`], then one [`Dither`] each, a [`Rotation`] watch each.
///
/// State: 24 bytes for one fan, 18 more for each further one (and padding).
///
/// ```
/// use controller_core::drive::dither::{DitherConfig, Polarity};
/// use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
/// use controller_core::drive::fans::FansConfig;
/// use controller_core::drive::output::{Drive, FanDrive, FanDriveConfig};
/// use controller_core::drive::wiring::Wiring;
/// use controller_core::duty::Duty;
///
/// const FLOOR: Duty = Duty::fraction(0.25);
/// const CONFIG: FanDriveConfig = FanDriveConfig {
///     fans: FansConfig {
///         fans: [FanConfig::constant(FanParts {
///             floor: FLOOR,
///             spin_up: SpinUp { level: Duty::FULL, ticks: 1 },
///             stop: Stop::Never,
///             airflow: None,
///             slew: Slew::NONE,
///         })],
///         stagger: 0,
///     },
///     timer: DitherConfig::constant(640, FLOOR, Polarity::ActiveHigh),
///     tachometer: None,
///     wiring: Wiring::FourWire,
/// };
/// let mut drive = FanDrive::<1>::at_rest();
/// drive.demand(&CONFIG, Duty::fraction(0.5));
/// assert_eq!(drive.tick(&CONFIG), [640]); // the push
/// assert_eq!(drive.tick(&CONFIG), [320]);
/// drive.safe(&CONFIG);
/// assert_eq!(drive.tick(&CONFIG), [640]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FanDrive<const N: usize = 1> {
    fans: Fans<N>,
    timers: [Dither; N],
    /// What each timer was last set to: setting it multiplies, so only changes do.
    shown: [Duty; N],
    watches: [Rotation; N],
    /// Fans that were past their push and truthful at the end of the last window, one bit each.
    steady: u8,
}

impl<const N: usize> FanDrive<N> {
    /// The fans.
    #[must_use]
    pub const fn fans(&self) -> &Fans<N> {
        &self.fans
    }

    fn is_steady(fan: &Fan, wiring: Wiring, duty: Duty) -> bool {
        !fan.pushed() && fan.phase() != Phase::Stopped && wiring.tachometer_valid(duty)
    }
}

impl<const N: usize> Drive for FanDrive<N> {
    type Config = FanDriveConfig<N>;
    type Output = [u16; N];
    const SAFE: Duty = Duty::FULL;

    fn at_rest() -> Self {
        Self {
            fans: Fans::new(),
            timers: [Dither::new(); N],
            shown: [Duty::OFF; N],
            watches: [Rotation::new(); N],
            steady: 0,
        }
    }

    #[inline]
    fn demand(&mut self, config: &Self::Config, demand: Duty) {
        self.fans.demand(&config.fans, demand);
    }

    #[inline]
    fn tick(&mut self, config: &Self::Config) -> [u16; N] {
        let duties = self.fans.tick(&config.fans);
        let mut codes = [0; N];
        let timers = self.timers.iter_mut().zip(&mut self.shown);
        for ((code, (timer, shown)), duty) in codes.iter_mut().zip(timers).zip(duties) {
            if *shown != duty {
                *shown = duty;
                timer.set(&config.timer, duty);
            }
            *code = timer.tick(&config.timer);
        }
        codes
    }

    #[inline]
    fn safe(&mut self, config: &Self::Config) {
        self.fans.safe(&config.fans);
    }

    #[inline]
    fn applied(&self, config: &Self::Config) -> Duty {
        match (self.fans.fans().first(), config.fans.fans.first()) {
            (Some(fan), Some(one)) => fan.applied(one),
            _ => Duty::OFF,
        }
    }

    fn pulses(&mut self, config: &Self::Config, fan: usize, pulses: u16) {
        let Some(watch) = &config.tachometer else {
            return;
        };
        let (Some(state), Some(one), Some(rotation)) = (
            self.fans.fans().get(fan),
            config.fans.fans.get(fan),
            self.watches.get_mut(fan),
        ) else {
            return;
        };
        let bit = 1_u8.wrapping_shl(fan as u32);
        let steady = Self::is_steady(state, config.wiring, state.applied(one));
        let counts = steady && self.steady & bit != 0;
        if steady {
            self.steady |= bit;
        } else {
            self.steady &= !bit;
        }
        match rotation.window(watch, pulses, counts) {
            RotationEvent::None => {}
            RotationEvent::Push => {
                self.fans.push(&config.fans, fan);
                // the window in which it is pushed does not count
                self.steady &= !bit;
            }
            RotationEvent::Alarm => self.fans.fail(&config.fans, fan),
            RotationEvent::Recovered => self.fans.mend(fan),
        }
    }

    #[inline]
    fn failed(&self) -> bool {
        self.fans.failed() != 0
    }
}

/// Configuration of a [`PwmHeaterDrive`]; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PwmHeaterConfig {
    /// The timer behind the pin, without a floor: [`DitherConfig`] with [`Duty::OFF`].
    pub timer: DitherConfig,
}

impl Fields for PwmHeaterConfig {
    fn written(&self) -> Written {
        Written::Struct("controller_core::drive::output::PwmHeaterConfig")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        let Self { timer } = self;
        walk.group(
            &labelled("timer", "pwm", Unit::Group, "the timer behind the pin"),
            timer,
        );
    }
}

/// A heater on a PWM pin (direct current, a transistor). State: 8 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PwmHeaterDrive {
    timer: Dither,
    duty: Duty,
}

impl Drive for PwmHeaterDrive {
    type Config = PwmHeaterConfig;
    type Output = u16;
    const SAFE: Duty = Duty::OFF;

    fn at_rest() -> Self {
        Self {
            timer: Dither::new(),
            duty: Duty::OFF,
        }
    }

    #[inline]
    fn demand(&mut self, config: &Self::Config, demand: Duty) {
        self.duty = demand;
        self.timer.set(&config.timer, demand);
    }

    #[inline]
    fn tick(&mut self, config: &Self::Config) -> u16 {
        self.timer.tick(&config.timer)
    }

    #[inline]
    fn safe(&mut self, config: &Self::Config) {
        self.demand(config, Duty::OFF);
    }

    #[inline]
    fn applied(&self, _config: &Self::Config) -> Duty {
        self.duty
    }
}

/// A heater behind a relay or a mains switch. State: 10 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SwitchedHeaterDrive {
    switch: TimeProportional,
}

impl Drive for SwitchedHeaterDrive {
    type Config = TimeProportionalConfig;
    type Output = bool;
    const SAFE: Duty = Duty::OFF;

    fn at_rest() -> Self {
        Self {
            switch: TimeProportional::new(),
        }
    }

    #[inline]
    fn demand(&mut self, _config: &Self::Config, demand: Duty) {
        self.switch.demand(demand);
    }

    #[inline]
    fn tick(&mut self, config: &Self::Config) -> bool {
        self.switch.tick(config)
    }

    #[inline]
    fn safe(&mut self, config: &Self::Config) {
        self.switch.safe(config);
    }

    #[inline]
    fn applied(&self, _config: &Self::Config) -> Duty {
        self.switch.duty()
    }
}

#[cfg(test)]
mod tests;
