use super::rotation::{Rotation, RotationConfig, RotationError, RotationEvent};
use super::{PulsePeriod, PulseWindow, TachometerError};
use crate::message::tests::speaks;
use core::mem::size_of;
use std::collections::{HashSet, VecDeque};
use std::vec::Vec;

#[test]
fn rpm_of_every_pulse_count_within_the_stated_error() {
    let mut cases = 0_u64;
    for pulses_per_revolution in [1, 2, 3, 4, 16] {
        for window_ms in [10, 100, 250, 333, 1_000, 1_024, 60_000] {
            let window = PulseWindow::constant(pulses_per_revolution, window_ms);
            for pulses in 0..=u16::MAX {
                let exact = f64::from(pulses) * 60_000.0
                    / (f64::from(pulses_per_revolution) * f64::from(window_ms));
                let rpm = f64::from(window.rpm(pulses));
                let bound = 0.5 + f64::from(pulses) / 131_072.0 + 1e-9;
                assert!(
                    (rpm - exact.min(65_535.0)).abs() <= bound,
                    "{pulses} pulses: {rpm} {exact}"
                );
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 35 * 65_536);
}

#[test]
fn rpm_of_every_period_is_the_rounded_quotient() {
    let mut cases = 0_u64;
    for (pulses, hz) in [(1, 1_000_000), (2, 100_000), (2, 32_768), (16, 100)] {
        let period = PulsePeriod::constant(pulses, hz);
        let numerator = (60 * hz + u32::from(pulses) / 2) / u32::from(pulses);
        for clocks in 1..=u16::MAX {
            let rounded = (2 * u64::from(numerator) + u64::from(clocks)) / (2 * u64::from(clocks));
            assert_eq!(
                u64::from(period.rpm(clocks)),
                rounded.min(65_535),
                "{clocks}"
            );
            cases += 1;
        }
        assert_eq!(period.rpm(0), u16::MAX);
    }
    assert_eq!(cases, 4 * 65_535);
}

#[test]
fn refusals_name_what_is_wrong() {
    assert_eq!(
        PulseWindow::new(0, 1_000),
        Err(TachometerError::PulsesPerRevolution)
    );
    assert_eq!(
        PulsePeriod::new(17, 1_000),
        Err(TachometerError::PulsesPerRevolution)
    );
    assert_eq!(
        PulseWindow::new(17, 1_000),
        Err(TachometerError::PulsesPerRevolution)
    );
    assert_eq!(
        PulsePeriod::new(0, 1_000),
        Err(TachometerError::PulsesPerRevolution)
    );
    assert_eq!(PulseWindow::new(2, 9), Err(TachometerError::Window));
    assert_eq!(PulseWindow::new(2, 60_001), Err(TachometerError::Window));
    assert_eq!(PulsePeriod::new(2, 99), Err(TachometerError::Timer));
    assert_eq!(PulsePeriod::new(2, 1_000_001), Err(TachometerError::Timer));
    assert_eq!(
        RotationConfig::new(0, 1, 0),
        Err(RotationError::LeastPulses)
    );
    assert_eq!(RotationConfig::new(1, 0, 0), Err(RotationError::Confirm));
}

/// The truth table again, written on its own: a history of windows decides.
struct Table {
    bad: u32,
    good: u32,
    used: u32,
    stalled: bool,
}

impl Table {
    fn window(&mut self, confirm: u32, retries: u32, turns: Option<bool>) -> RotationEvent {
        match turns {
            None => return RotationEvent::None,
            Some(true) => (self.bad, self.good) = (0, self.good + 1),
            Some(false) => (self.bad, self.good) = (self.bad + 1, 0),
        }
        if self.stalled && self.good >= confirm {
            (self.stalled, self.good, self.used) = (false, 0, 0);
            RotationEvent::Recovered
        } else if !self.stalled && self.good >= confirm {
            self.used = 0;
            RotationEvent::None
        } else if !self.stalled && self.bad >= confirm {
            self.bad = 0;
            if self.used == retries {
                self.stalled = true;
                RotationEvent::Alarm
            } else {
                self.used += 1;
                RotationEvent::Push
            }
        } else {
            RotationEvent::None
        }
    }
}

/// Every sequence of ten windows (turns, does not, not counted) for several configurations gives
/// the events of the truth table; every state reached is within its bounds, and from each one a
/// standing fan leads to the alarm in the stated time, a turning one out of it.
#[test]
fn every_sequence_follows_the_truth_table() {
    let mut cases = 0_u64;
    for (confirm, retries) in [(1, 0), (1, 2), (2, 0), (2, 1), (3, 1), (3, 2)] {
        let config = RotationConfig::constant(5, confirm, retries);
        for mut word in 0..3_u32.pow(10) {
            let mut machine = Rotation::new();
            let mut table = Table {
                bad: 0,
                good: 0,
                used: 0,
                stalled: false,
            };
            for _ in 0..10 {
                let (turns, pulses) =
                    [(Some(true), 5), (Some(false), 4), (None, 0)][(word % 3) as usize];
                word /= 3;
                let event = machine.window(&config, pulses, turns.is_some());
                let expected = table.window(confirm.into(), retries.into(), turns);
                assert_eq!(event, expected, "{config:?}");
                assert_eq!(machine.stalled(), table.stalled);
            }
            cases += 1;
        }
    }
    assert_eq!(cases, 6 * 59_049);
}

#[test]
fn from_every_state_the_alarm_and_the_recovery_come_in_the_stated_time() {
    assert_eq!(size_of::<Rotation>(), 4);
    let config = RotationConfig::constant(5, 3, 2);
    let mut seen = HashSet::from([Rotation::new()]);
    let mut queue = VecDeque::from([Rotation::new()]);
    while let Some(state) = queue.pop_front() {
        for (pulses, counts) in [(5, true), (4, true), (0, false)] {
            let mut next = state;
            next.window(&config, pulses, counts);
            if seen.insert(next) {
                queue.push_back(next);
            }
        }
    }
    let states: Vec<_> = seen.into_iter().collect();
    // untried: runs of 0 to 3 good windows, of 1 and 2 bad ones; after each of 2 pushes, and stalled: 0 to 2 bad
    // ones, 1 and 2 good ones
    assert_eq!(states.len(), 4 + 2 + 2 * 5 + 5);
    for state in states {
        let mut standing = state;
        for _ in 0..9 {
            standing.window(&config, 0, true);
        }
        assert!(
            standing.stalled(),
            "{state:?}: (retries + 1) * confirm windows"
        );
        let mut turning = state;
        for _ in 0..3 {
            turning.window(&config, 5, true);
        }
        assert!(!turning.stalled(), "{state:?}: confirm windows");
    }
}

#[test]
fn refusals_say_what_would_be_accepted() {
    for (error, accepted) in [
        (
            TachometerError::PulsesPerRevolution,
            "1 ..= 16 (most fans: 2)",
        ),
        (TachometerError::Window, "10 ..= 60000 ms"),
        (TachometerError::Timer, "100 ..= 1000000 Hz"),
    ] {
        speaks(&error, error.message(), "tachometer: ", accepted);
    }
    for (error, accepted) in [
        (RotationError::LeastPulses, "1 ..= 65535"),
        (RotationError::Confirm, "1 ..= 255 windows"),
    ] {
        speaks(&error, error.message(), "rotation: ", accepted);
    }
}

#[test]
fn a_watch_keeps_its_numbers() {
    let config = RotationConfig::constant(5, 7, 2);
    let kept = (config.least_pulses(), config.confirm(), config.retries());
    assert_eq!(kept, (5, 7, 2));
}
