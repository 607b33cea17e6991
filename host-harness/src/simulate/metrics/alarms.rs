//! Alarms that come up in a run without any fault.

use controller_core::guard::{Alarm, Alarms};
use sensor_math::fault::FaultCode;
use serde::Serialize;

/// One alarm that was on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Raised {
    /// Its name, in the words of the firmware.
    pub alarm: &'static str,
    /// When it came up first, seconds.
    pub first_s: f64,
    /// How often it came up.
    pub times: u64,
    /// Share of all samples in which it was on.
    pub share: f64,
    /// True temperature when it came up first, degC.
    pub celsius: f64,
    /// Fault of the reading then, if there was one.
    pub reading: Option<&'static str>,
}

#[derive(Clone, Copy, Debug, Default)]
struct One {
    first: Option<(f64, f64, Option<FaultCode>)>,
    times: u64,
    samples: u64,
}

/// Takes a whole run a sample at a time.
#[derive(Clone, Debug, Default)]
pub struct AlarmLog {
    each: [One; Alarm::ALL.len()],
    before: Alarms,
    fault: Option<FaultCode>,
    samples: u64,
}

impl AlarmLog {
    /// The next sample: alarms after its step, the true temperature, and the fault of its reading.
    pub fn take(&mut self, time_s: f64, alarms: Alarms, celsius: f64, fault: Option<FaultCode>) {
        self.samples += 1;
        // an alarm is confirmed by several readings, of which the last may be whole again
        self.fault = fault.or(self.fault);
        for (one, alarm) in self.each.iter_mut().zip(Alarm::ALL) {
            if alarms.has(alarm) {
                one.samples += 1;
                one.first.get_or_insert((time_s, celsius, self.fault));
                one.times += u64::from(!self.before.has(alarm));
            }
        }
        self.before = alarms;
    }

    /// The alarms that were on, in the order of their bits.
    #[must_use]
    pub fn raised(&self) -> Vec<Raised> {
        let named = self.each.iter().zip(Alarm::ALL);
        named
            .filter_map(|(one, alarm)| {
                let (first_s, celsius, fault) = one.first?;
                Some(Raised {
                    alarm: name(alarm),
                    first_s,
                    times: one.times,
                    share: one.samples as f64 / self.samples as f64,
                    celsius,
                    reading: fault.map(|f| match f {
                        FaultCode::Open => "open",
                        FaultCode::Short => "short",
                        FaultCode::OutOfRange => "out-of-range",
                        FaultCode::Stuck => "stuck",
                    }),
                })
            })
            .collect()
    }
}

/// An alarm's name, as `verdict.json` has it.
fn name(alarm: Alarm) -> &'static str {
    match alarm {
        Alarm::Sensor => "sensor",
        Alarm::Stale => "stale",
        Alarm::Stuck => "stuck",
        Alarm::Trip => "trip",
        Alarm::Hunting => "hunting",
        Alarm::NoEffect => "no-effect",
        Alarm::Tachometer => "tachometer",
        Alarm::SelfTest => "self-test",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_alarm_is_logged_with_its_first_moment_and_how_often_it_came() {
        let mut log = AlarmLog::default();
        let mut on = Alarms::NONE;
        on.set(Alarm::Stuck, true);
        for (n, alarms) in [Alarms::NONE, on, on, Alarms::NONE, on]
            .into_iter()
            .enumerate()
        {
            log.take(n as f64, alarms, 30.0 + n as f64, None);
        }
        let found = log.raised();
        assert_eq!(found.len(), 1);
        assert_eq!(
            (found[0].alarm, found[0].first_s, found[0].times),
            ("stuck", 1.0, 2)
        );
        assert_eq!((found[0].celsius, found[0].reading), (31.0, None));
        assert!((found[0].share - 0.6).abs() < 1e-12);
    }
}
