//! Guards that acted in a run without any fault: always a reason, each with its likely cause.

use super::causes::tidy;
use super::{Code, Reason, Simulated};
use crate::design::Design;
use crate::design::keys::plain;
use crate::plan::{EFFECT_S, STUCK_TRAVEL, kelvin_per_code};
use crate::simulate::Response;
use crate::simulate::metrics::Raised;

/// One reason for each alarm. The hunting guard, which only reports, counts half-swings and cannot know who makes them:
/// where the scenario itself switches something and no cycle goes on once it stops, they are the scenario's.
pub(super) fn reasons(design: &Design, response: &Response, figures: &Simulated) -> Vec<Reason> {
    let swung = !figures.hunting.present && !design.control.scenario.events.is_empty();
    let raised = response.observed.alarms.iter();
    raised
        .filter(|alarm| !(swung && alarm.alarm == "hunting"))
        .map(|alarm| reason(design, alarm))
        .collect()
}

/// Whether an alarm took the actuator from the law.
pub(super) fn acted(figures: &Simulated) -> bool {
    figures.alarms.iter().any(|alarm| alarm.alarm != "hunting")
}

fn reason(design: &Design, alarm: &Raised) -> Reason {
    let safe = if design.control.is_cooling() {
        "the fan goes to full speed"
    } else {
        "the heater goes off"
    };
    let times = if alarm.times == 1 {
        "once".to_owned()
    } else {
        format!("{} times", alarm.times)
    };
    let when = format!(
        "without any fault, first after {:.0} s at {} degC, {times}, {} % of the time",
        alarm.first_s,
        tidy(alarm.celsius),
        tidy(100.0 * alarm.share)
    );
    let (table, control) = (&design.sensing.table, &design.control);
    let (low, high) = (table.low_celsius, table.high_celsius);
    match alarm.alarm {
        "sensor" if alarm.celsius < low || alarm.celsius > high => {
            let (end, key, way) = if alarm.celsius < low {
                (low, "table.low_celsius", "below the coldest")
            } else {
                (high, "table.high_celsius", "above the hottest")
            };
            Reason::new(
                Code::OffTable,
                format!(
                    "the temperature leaves the table: {} degC after {:.0} s, and {key} = {}; out there every reading counts as a \
                     broken sensor, and {safe}",
                    tidy(alarm.celsius),
                    alarm.first_s,
                    plain(end)
                ),
                format!(
                    "{key} {way} that the loop must work at, with the sensor's own lag and noise"
                ),
            )
        }
        "sensor" => Reason::new(
            Code::Alarm,
            format!("the sensor counts as broken {when}, and {safe}"),
            "readings that jump by less: a burst (adc.burst_samples), a finer converter, or a table that reaches further",
        ),
        "stuck" => Reason::new(
            Code::Alarm,
            format!(
                "the reading counts as stuck {when}, and {safe}: it stood still while the duty moved by {:.0} %; one code of the \
                 converter is {} K here",
                100.0 * STUCK_TRAVEL,
                tidy(kelvin_per_code(design))
            ),
            "a finer converter (more adc.bits, or a burst), or lower gains, so that the duty does not move that far within one code",
        ),
        "trip" => Reason::new(
            Code::Alarm,
            format!(
                "the over-temperature trip at loop.trip_celsius = {} latches {when}, and {safe} until someone resets it",
                plain(control.trip_celsius)
            ),
            "a loop that stays below it (the other reasons say why it does not), or a higher trip if the hardware bears it",
        ),
        "no-effect" => Reason::new(
            Code::Alarm,
            format!(
                "the actuator counts as without effect {when}: driven hard for {EFFECT_S:.0} s, and the temperature does not answer"
            ),
            "an actuator that is strong enough for the heat and the set point",
        ),
        "tachometer" => Reason::new(
            Code::Alarm,
            format!("a fan counts as standing {when}: too few pulses came"),
            "a floor at which the fan turns, the right fan.tachometer_pulses and fan.full_speed_rpm, or a longer period",
        ),
        "hunting" => Reason::new(
            Code::Alarm,
            format!("the station's own guard reports hunting {when}"),
            "lower gains; or a larger accept.hunting_celsius, which is the guard's limit too",
        ),
        other => Reason::new(
            Code::Alarm,
            format!("the guard `{other}` acts {when}"),
            "a sample every loop.period_s, and a station that is not disturbed",
        ),
    }
}
