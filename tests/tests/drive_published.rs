//! Fans and tachometers against published values (`published/fan_adc_thermal.csv`).

use controller_core::drive::tachometer::{PulsePeriod, PulseWindow};
use controller_core::drive::wiring::{
    PULSES_PER_REVOLUTION, PWM_HZ, PWM_HZ_MAX, PWM_HZ_MIN, Wiring, pwm_accepted,
};
use controller_core::duty::Duty;
use host_harness::plant::fan::Fan;
use host_harness::plant::sound::level_change_db;
use hushloop_tests::{rows, rows_of};

const FILE: &str = "fan_adc_thermal.csv";

fn one(id: &str) -> hushloop_tests::Row {
    rows(FILE)
        .into_iter()
        .find(|row| row.id == id)
        .unwrap_or_else(|| panic!("no row {id}"))
}

#[test]
fn sound_changes_by_fifty_times_the_logarithm_of_the_speed_ratio() {
    let rows = rows_of(FILE, "FAN-LW-");
    assert_eq!(rows.len(), 7);
    for row in rows {
        row.check(level_change_db(1.0, row.input("N2/N1")));
    }
    // common practice, no source: a small fan of 64 dB at 8 000 rpm is near 43 dB at 3 000
    let quiet = 64.0 + level_change_db(8_000.0, 3_000.0);
    assert!((quiet - 43.0).abs() < 0.5, "{quiet}");
}

#[test]
fn the_plant_s_flow_is_proportional_to_speed_and_speed_to_duty() {
    let rows = rows_of(FILE, "FAN-Q-");
    assert_eq!(rows.len(), 6);
    for row in rows {
        let mut fan = Fan::standing(1.0, 0.05, 0.05);
        fan.advance(1e3, row.input("N2/N1"));
        row.check(fan.speed);
    }
}

#[test]
fn the_four_wire_signal_is_the_specification_s() {
    one("PWM-F0").check(f64::from(PWM_HZ) / 1e3);
    one("PWM-FMIN").check(f64::from(PWM_HZ_MIN) / 1e3);
    one("PWM-FMAX").check(f64::from(PWM_HZ_MAX) / 1e3);
    one("PWM-TACH").check(f64::from(PULSES_PER_REVOLUTION));
    let (low, high) = (
        1e3 * one("PWM-FMIN").number(),
        1e3 * one("PWM-FMAX").number(),
    );
    assert!(pwm_accepted(low as u32) && pwm_accepted(high as u32));
    assert!(!pwm_accepted(low as u32 - 1) && !pwm_accepted(high as u32 + 1));
    assert_eq!(one("PWM-NOSIG").expected, "fan runs at maximum speed");
    assert_eq!(Wiring::FourWire.undriven(), Some(Duty::FULL));
    // full speed is full duty: the compare value of it is the whole period
    one("PWM-MAXDUTY").check(f64::from(Duty::FULL.to_compare(640)) / 640.0 * 100.0);
}

#[test]
fn pulses_of_a_second_give_the_published_speed() {
    for row in rows_of(FILE, "TACH-") {
        // a window that holds a whole number of pulses
        let (window_ms, seconds) = (3_000, 3.0);
        let pulses = (row.input("f_Hz") * seconds).round() as u16;
        let window = PulseWindow::constant(PULSES_PER_REVOLUTION, window_ms);
        let rpm = window.rpm(pulses);
        // an integer, so half a revolution a minute beside the row's own tolerance
        assert!(
            (f64::from(rpm) - row.number()).abs() <= 0.5 + row.within(),
            "{}: {rpm}",
            row.id
        );
    }
}

#[test]
fn published_periods_give_their_speed_back() {
    let rows = rows_of(FILE, "TACHP-");
    assert_eq!(rows.len(), 4);
    for row in rows {
        let timer = PulsePeriod::constant(PULSES_PER_REVOLUTION, 100_000);
        let clocks = (row.number() * 100.0).round() as u16;
        assert_eq!(f64::from(timer.rpm(clocks)), row.input("rpm"), "{}", row.id);
    }
}

#[test]
fn every_row_is_read_and_cites_a_source() {
    let all = rows(FILE);
    assert_eq!(all.len(), 31);
    let mut ids: Vec<&str> = all.iter().map(|row| row.id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all.len(), "every name once");
}
