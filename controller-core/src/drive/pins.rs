//! Adapters from a drive's output to the pins of `embedded-hal` 1.0 (feature `embedded-hal`).
//!
//! A timer's compare value goes to a [`SetDutyCycle`] pin, a switch's state to an [`OutputPin`]. The
//! polarity of a compare value is in the drive's own configuration ([`super::dither::Polarity`]); that
//! of a switch is here.

use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;

use super::dither::{DitherConfig, Polarity};

/// A PWM pin whose period is the one that the drive was configured for.
///
/// ```
/// use controller_core::drive::dither::{Dither, DitherConfig, Polarity};
/// use controller_core::drive::pins::TimerPin;
/// use controller_core::duty::Duty;
/// use embedded_hal::pwm::{ErrorType, SetDutyCycle};
///
/// struct Timer(u16); // on a chip: the HAL's own
/// impl ErrorType for Timer { type Error = core::convert::Infallible; }
/// impl SetDutyCycle for Timer {
///     fn max_duty_cycle(&self) -> u16 { 640 }
///     fn set_duty_cycle(&mut self, compare: u16) -> Result<(), Self::Error> { self.0 = compare; Ok(()) }
/// }
///
/// const CONFIG: DitherConfig = DitherConfig::constant(640, Duty::OFF, Polarity::ActiveHigh);
/// let mut pin = TimerPin::new(Timer(0), &CONFIG).ok().expect("the periods agree");
/// let mut dither = Dither::new();
/// dither.set(&CONFIG, Duty::FULL);
/// pin.put(dither.tick(&CONFIG)).unwrap();
/// assert_eq!(pin.release().0, 640);
/// ```
#[derive(Debug)]
pub struct TimerPin<P>(P);

impl<P: SetDutyCycle> TimerPin<P> {
    /// Takes the pin when its greatest duty cycle is the configuration's period.
    ///
    /// # Errors
    /// The pin itself, when it counts to another period: compare values would mean something else.
    pub fn new<const K: u32>(pin: P, config: &DitherConfig<K>) -> Result<Self, P> {
        if pin.max_duty_cycle() == config.top() {
            Ok(Self(pin))
        } else {
            Err(pin)
        }
    }

    /// Puts out a compare value, as a drive's tick gives it.
    ///
    /// # Errors
    /// Whatever the pin reports.
    #[inline]
    pub fn put(&mut self, compare: u16) -> Result<(), P::Error> {
        self.0.set_duty_cycle(compare)
    }

    /// Gives the pin back.
    pub fn release(self) -> P {
        self.0
    }
}

/// A pin that switches a relay or a mains switch.
///
/// ```
/// use controller_core::drive::dither::Polarity;
/// use controller_core::drive::pins::SwitchPin;
/// use embedded_hal::digital::{ErrorType, OutputPin};
///
/// struct Pin(bool);
/// impl ErrorType for Pin { type Error = core::convert::Infallible; }
/// impl OutputPin for Pin {
///     fn set_low(&mut self) -> Result<(), Self::Error> { self.0 = false; Ok(()) }
///     fn set_high(&mut self) -> Result<(), Self::Error> { self.0 = true; Ok(()) }
/// }
///
/// let mut relay = SwitchPin::new(Pin(false), Polarity::ActiveLow).unwrap();
/// relay.put(true).unwrap();
/// assert!(!relay.release().0); // on is low
/// ```
#[derive(Debug)]
pub struct SwitchPin<P> {
    pin: P,
    polarity: Polarity,
}

impl<P: OutputPin> SwitchPin<P> {
    /// Takes the pin and switches it off.
    ///
    /// # Errors
    /// Whatever the pin reports.
    pub fn new(pin: P, polarity: Polarity) -> Result<Self, P::Error> {
        let mut this = Self { pin, polarity };
        this.put(false)?;
        Ok(this)
    }

    /// Switches.
    ///
    /// # Errors
    /// Whatever the pin reports.
    #[inline]
    pub fn put(&mut self, on: bool) -> Result<(), P::Error> {
        if on == matches!(self.polarity, Polarity::ActiveHigh) {
            self.pin.set_high()
        } else {
            self.pin.set_low()
        }
    }

    /// Gives the pin back as it is.
    pub fn release(self) -> P {
        self.pin
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::duty::Duty;
    use core::convert::Infallible;

    struct Fake(u16);
    impl embedded_hal::pwm::ErrorType for Fake {
        type Error = Infallible;
    }
    impl SetDutyCycle for Fake {
        fn max_duty_cycle(&self) -> u16 {
            100
        }
        fn set_duty_cycle(&mut self, compare: u16) -> Result<(), Infallible> {
            self.0 = compare;
            Ok(())
        }
    }
    impl embedded_hal::digital::ErrorType for Fake {
        type Error = Infallible;
    }
    impl OutputPin for Fake {
        fn set_low(&mut self) -> Result<(), Infallible> {
            self.0 = 0;
            Ok(())
        }
        fn set_high(&mut self) -> Result<(), Infallible> {
            self.0 = 1;
            Ok(())
        }
    }

    #[test]
    fn a_timer_of_another_period_is_refused() {
        let config = |top| DitherConfig::constant(top, Duty::OFF, Polarity::ActiveHigh);
        assert!(TimerPin::new(Fake(0), &config(99)).is_err());
        let mut pin = TimerPin::new(Fake(0), &config(100)).ok().unwrap();
        pin.put(42).unwrap();
        assert_eq!(pin.release().0, 42);
    }

    #[test]
    fn a_switch_starts_off_and_follows_its_polarity() {
        for (polarity, off, on) in [(Polarity::ActiveHigh, 0, 1), (Polarity::ActiveLow, 1, 0)] {
            let mut pin = SwitchPin::new(Fake(7), polarity).unwrap();
            assert_eq!(pin.pin.0, off);
            pin.put(true).unwrap();
            assert_eq!(pin.pin.0, on);
            pin.put(false).unwrap();
            assert_eq!(pin.release().0, off);
        }
    }
}
