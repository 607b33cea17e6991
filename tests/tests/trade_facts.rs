//! Facts of the trade, seen in simulation. All of them: common practice, no source.
//!
//! The plant is the studio rack's; each test changes the gains and watches the air temperature after a load
//! comes or goes.

use host_harness::build;
use host_harness::design::{self, Design};
use host_harness::simulate::{Response, Sample};
use host_harness::verdict::Simulated;

/// The studio rack with other gains (%/K, %/(K s), % s/K), without converter noise.
fn rack(kp: f64, ki: f64, kd: f64) -> Design {
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host-harness/designs/studio-rack.toml"
    ))
    .expect("the demo design");
    let mut out = String::new();
    for line in text.lines() {
        match line.split(['=', ' ']).next().unwrap_or("") {
            "kp_percent_per_kelvin" => out += &format!("kp_percent_per_kelvin = {kp}\n"),
            "ki_percent_per_kelvin_second" => {
                out += &format!(
                    "ki_percent_per_kelvin_second = {ki}\nkd_percent_second_per_kelvin = {kd}\nderivative_filter_samples = 16\n"
                );
            }
            "noise_lsb" => out += "noise_lsb = 0\n",
            _ => out += &format!("{line}\n"),
        }
    }
    design::parse("studio-rack with other gains", &out).unwrap_or_else(|e| panic!("{e}"))
}

fn respond(design: &Design) -> Response {
    let table = build::table(&design.sensing).expect("the demo table exists");
    build::respond(design, &table)
}

/// Samples from `from_s` on, `for_s` long.
fn part(response: &Response, from_s: f64, for_s: f64) -> &[Sample] {
    let at = |s: f64| (s / response.period_s) as usize;
    &response.fixed[at(from_s)..at(from_s + for_s)]
}

fn mean(samples: &[Sample], value: fn(&Sample) -> f64) -> f64 {
    samples.iter().map(value).sum::<f64>() / samples.len() as f64
}

/// Moments of the demo scenario: the load comes, the load goes.
const LOAD_COMES_S: f64 = 4500.0;
const LOAD_GOES_S: f64 = 8100.0;
const SET_POINT: f64 = 38.0;

#[test]
fn proportional_action_alone_leaves_the_box_above_the_set_point() {
    let response = respond(&rack(6.0, 0.0, 0.0));
    let settled = mean(part(&response, LOAD_GOES_S - 300.0, 300.0), |s| s.celsius);
    assert!(settled > SET_POINT + 1.0, "settled at {settled}");
    // at zero error it asks for no fan at all: only the floor is left
    let floor = 0.2;
    let cold = response
        .fixed
        .iter()
        .filter(|s| s.reading <= SET_POINT)
        .collect::<Vec<_>>();
    assert!(cold.len() > 100);
    assert!(cold.iter().all(|s| (s.demand - floor).abs() < 1e-3));
}

#[test]
fn integral_action_alone_returns_exactly_but_slowly_and_swings_below_after_the_load() {
    let alone = respond(&rack(0.0, 0.05, 0.0));
    let settled = mean(part(&alone, LOAD_GOES_S - 600.0, 600.0), |s| s.reading);
    assert!(
        (settled - SET_POINT).abs() < 0.12,
        "settled at {settled}: more than one code away"
    );
    let below = part(&alone, LOAD_GOES_S, 3000.0)
        .iter()
        .fold(f64::INFINITY, |least, s| least.min(s.celsius));
    assert!(
        below < SET_POINT - 0.5,
        "after the load goes the integrator must unwind below the set point; lowest {below}"
    );

    // adding proportional action shortens both
    let both = respond(&rack(6.0, 0.05, 0.0));
    let peak = |r: &Response| {
        part(r, LOAD_COMES_S, 3000.0)
            .iter()
            .fold(f64::NEG_INFINITY, |most, s| most.max(s.celsius))
    };
    let low = |r: &Response| {
        part(r, LOAD_GOES_S, 3000.0)
            .iter()
            .fold(f64::INFINITY, |least, s| least.min(s.celsius))
    };
    assert!(
        peak(&both) < peak(&alone) - 0.3,
        "{} against {}",
        peak(&both),
        peak(&alone)
    );
    assert!(
        low(&both) > low(&alone) + 0.3,
        "{} against {}",
        low(&both),
        low(&alone)
    );
}

#[test]
fn too_much_integral_gain_hunts_and_a_tenth_of_it_does_not() {
    for (ki, hunts) in [(0.07, false), (0.7, true)] {
        let design = rack(0.0, ki, 0.0);
        let hunting = Simulated::judge(&design, &respond(&design)).0.hunting;
        assert_eq!(hunting.present, hunts, "ki = {ki}: {hunting:?}");
    }
}

#[test]
fn derivative_action_comes_early_in_a_load_step_and_decays() {
    let response = respond(&rack(4.0, 0.07, 200.0));
    let early = part(&response, LOAD_COMES_S, 400.0)
        .iter()
        .map(|s| s.d)
        .fold(0.0, f64::max);
    assert!(early > 0.005, "largest derivative term {early}");
    let late = mean(part(&response, LOAD_GOES_S - 300.0, 300.0), |s| s.d).abs();
    assert!(late < early / 20.0, "late {late}, early {early}");
    // and the integral term is what remains
    let remaining = mean(part(&response, LOAD_GOES_S - 300.0, 300.0), |s| s.i);
    let demand = mean(part(&response, LOAD_GOES_S - 300.0, 300.0), |s| s.demand);
    assert!(
        (remaining - demand).abs() < 0.03,
        "integral {remaining} carries the demand {demand}"
    );
}

#[test]
fn with_the_thermistor_on_the_supply_side_the_voltage_rises_with_temperature() {
    let sensor = rack(4.0, 0.07, 0.0).sensing.sensor;
    assert_eq!(sensor.divider.side, sensor_math::divider::Side::Supply);
    let truth = host_harness::reference::sensor::Truth::new(&sensor);
    for celsius in -10..100 {
        assert!(truth.position(f64::from(celsius) + 1.0) > truth.position(f64::from(celsius)));
    }
}
