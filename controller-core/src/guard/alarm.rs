/// One reason to distrust the chain. The value is the bit's position in [`Alarms`], and stays the
/// same for ever: telemetry carries it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Alarm {
    /// The sensor's fault is confirmed, or its recovery is not yet.
    Sensor = 0,
    /// The sample came late, or did not come.
    Stale = 1,
    /// The reading does not move although the duty does.
    Stuck = 2,
    /// Over-temperature, latched.
    Trip = 3,
    /// The loop hunts.
    Hunting = 4,
    /// The plant does not answer the actuator.
    NoEffect = 5,
    /// A fan does not turn.
    Tachometer = 6,
    /// Configuration or tables are not what they were at build time; until restart.
    SelfTest = 7,
}

impl Alarm {
    /// All alarms, in the order of their bits.
    pub const ALL: [Self; 8] = [
        Self::Sensor,
        Self::Stale,
        Self::Stuck,
        Self::Trip,
        Self::Hunting,
        Self::NoEffect,
        Self::Tachometer,
        Self::SelfTest,
    ];
}

/// A set of [`Alarm`]s: one byte.
///
/// ```
/// use controller_core::guard::{Alarm, Alarms};
/// let mut on = Alarms::NONE;
/// on.set(Alarm::Trip, true);
/// assert!(on.has(Alarm::Trip) && on.unsafe_to_run());
/// on.set(Alarm::Trip, false);
/// on.set(Alarm::Hunting, true);
/// assert!(!on.unsafe_to_run()); // reported, but the loop goes on
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(transparent)]
pub struct Alarms(u8);

impl Alarms {
    /// No alarm.
    pub const NONE: Self = Self(0);

    /// Whether one alarm is on.
    #[must_use]
    #[inline]
    pub const fn has(self, alarm: Alarm) -> bool {
        self.0 & Self::bit(alarm) != 0
    }

    /// Switches one alarm.
    #[inline]
    pub const fn set(&mut self, alarm: Alarm, on: bool) {
        if on {
            self.0 |= Self::bit(alarm);
        } else {
            self.0 &= !Self::bit(alarm);
        }
    }

    /// Whether any alarm is on whose answer is the safe state: all but [`Alarm::Hunting`].
    #[must_use]
    #[inline]
    pub const fn unsafe_to_run(self) -> bool {
        self.0 & !Self::bit(Alarm::Hunting) != 0
    }

    /// Both sets together.
    #[must_use]
    #[inline]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The byte, as telemetry carries it.
    #[must_use]
    #[inline]
    pub const fn bits(self) -> u8 {
        self.0
    }

    const fn bit(alarm: Alarm) -> u8 {
        match alarm {
            Alarm::Sensor => 1,
            Alarm::Stale => 2,
            Alarm::Stuck => 4,
            Alarm::Trip => 8,
            Alarm::Hunting => 16,
            Alarm::NoEffect => 32,
            Alarm::Tachometer => 64,
            Alarm::SelfTest => 128,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Alarm, Alarms};

    #[test]
    fn bits_are_positions_and_independent() {
        for alarm in Alarm::ALL {
            let mut one = Alarms::NONE;
            one.set(alarm, true);
            assert_eq!(one.bits(), 1 << alarm as u8);
            for other in Alarm::ALL {
                assert_eq!(one.has(other), other == alarm);
            }
            assert_eq!(one.unsafe_to_run(), alarm != Alarm::Hunting);
            let mut all = Alarms(0xFF);
            all.set(alarm, false);
            assert_eq!(all.union(one).bits(), 0xFF);
            assert_eq!(one.union(one), one);
            assert!(!all.has(alarm));
        }
    }
}
