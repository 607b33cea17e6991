//! What fans of three and of four wires can be asked, and when their tachometer tells the truth.
//!
//! Source of the four-wire facts: *4-Wire Pulse Width Modulation (PWM) Controlled Fans
//! Specification*, sections 2.1.3, 2.1.4, 2.3.1, 3.1 to 3.4 (an open specification).

use crate::duty::Duty;

/// Target frequency of a four-wire fan's control signal, in hertz (section 2.1.4).
pub const PWM_HZ: u32 = 25_000;
/// Lowest acceptable frequency of that signal, in hertz (section 2.1.4).
pub const PWM_HZ_MIN: u32 = 21_000;
/// Highest acceptable frequency of that signal, in hertz (section 2.1.4).
pub const PWM_HZ_MAX: u32 = 28_000;
/// Tachometer pulses a revolution (section 2.1.3), used by three-wire fans as well.
pub const PULSES_PER_REVOLUTION: u8 = 2;

/// How the fan's speed is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Wiring {
    /// Four wires: constant supply and a control line at [`PWM_HZ`], open collector, not inverted.
    /// Without a signal the fan runs at full speed (section 3.3): an unconfigured pin is safe.
    FourWire,
    /// Three wires, the supply chopped: the tachometer loses its own supply with the fan's, so it
    /// is valid only while the supply is on. Chop slowly (tens of hertz) or measure at full duty.
    ThreeWireChopped,
    /// Three wires, the supply lowered by a linear or filtered stage: the tachometer is valid
    /// whenever the fan is powered at all.
    ThreeWireLinear,
}

impl Wiring {
    /// Whether tachometer pulses counted over a window in which `duty` applied throughout mean
    /// revolutions.
    ///
    /// ```
    /// use controller_core::drive::wiring::Wiring;
    /// use controller_core::duty::Duty;
    /// let half = Duty::fraction(0.5);
    /// assert!(Wiring::FourWire.tachometer_valid(half));
    /// assert!(!Wiring::ThreeWireChopped.tachometer_valid(half));
    /// assert!(Wiring::ThreeWireChopped.tachometer_valid(Duty::FULL));
    /// assert!(!Wiring::ThreeWireLinear.tachometer_valid(Duty::OFF));
    /// ```
    #[must_use]
    #[inline]
    pub const fn tachometer_valid(self, duty: Duty) -> bool {
        match self {
            Self::FourWire => true,
            Self::ThreeWireChopped => duty.bits() == Duty::ONE,
            Self::ThreeWireLinear => duty.bits() != 0,
        }
    }

    /// What the fan does while nothing drives its pin (reset, boot, brown-out): its share of full
    /// speed. A three-wire fan depends on what its power stage is pulled to; `None` says that the
    /// board decides, and a pull-up to full is what a cooling design wants.
    ///
    /// ```
    /// use controller_core::drive::wiring::Wiring;
    /// use controller_core::duty::Duty;
    /// assert_eq!(Wiring::FourWire.undriven(), Some(Duty::FULL));
    /// assert_eq!(Wiring::ThreeWireLinear.undriven(), None);
    /// ```
    #[must_use]
    pub const fn undriven(self) -> Option<Duty> {
        match self {
            Self::FourWire => Some(Duty::FULL),
            Self::ThreeWireChopped | Self::ThreeWireLinear => None,
        }
    }
}

/// Whether a four-wire fan accepts a control signal of this frequency.
///
/// ```
/// use controller_core::drive::wiring::pwm_accepted;
/// assert!(pwm_accepted(25_000) && pwm_accepted(21_000) && pwm_accepted(28_000));
/// assert!(!pwm_accepted(20_999) && !pwm_accepted(28_001));
/// ```
#[must_use]
pub const fn pwm_accepted(hz: u32) -> bool {
    PWM_HZ_MIN <= hz && hz <= PWM_HZ_MAX
}

#[cfg(test)]
mod tests {
    use super::{Wiring, pwm_accepted};
    use crate::duty::Duty;

    const WIRINGS: [Wiring; 3] = [
        Wiring::FourWire,
        Wiring::ThreeWireChopped,
        Wiring::ThreeWireLinear,
    ];

    /// Off, just on, half, just below full, full.
    #[test]
    fn a_tachometer_is_believed_only_while_it_has_its_supply() {
        for (wiring, valid) in WIRINGS.into_iter().zip([
            [true, true, true, true, true],
            [false, false, false, false, true],
            [false, true, true, true, true],
        ]) {
            let duties = [0, 1, 16_384, Duty::ONE - 1, Duty::ONE].map(Duty::constant);
            let told = duties.map(|duty| wiring.tachometer_valid(duty));
            assert_eq!(told, valid, "{wiring:?}");
        }
    }

    /// 4-Wire PWM Controlled Fans Specification, section 3.3.
    #[test]
    fn only_a_fan_of_four_wires_is_at_full_speed_by_itself() {
        let undriven = WIRINGS.map(Wiring::undriven);
        assert_eq!(undriven, [Some(Duty::FULL), None, None]);
    }

    /// 4-Wire PWM Controlled Fans Specification, section 2.1.4: 21 kHz to 28 kHz.
    #[test]
    fn the_control_signal_is_accepted_from_21_to_28_kilohertz() {
        let accepted = [0, 20_999, 21_000, 25_000, 28_000, 28_001, u32::MAX].map(pwm_accepted);
        assert_eq!(accepted, [false, false, true, true, true, false, false]);
    }
}
