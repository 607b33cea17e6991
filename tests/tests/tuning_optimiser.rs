//! Our own choice of gains against a plain grid search by another program (`independent/least_error.py`, its figures in
//! `independent/least_error.csv`), and against the published rules at equal maximum sensitivity.

use std::path::Path;

use host_harness::tune::case::Case;
use host_harness::tune::model::Model;
use host_harness::tune::optimise::{Limits, Search};
use host_harness::tune::rules::{Rule, Terms};

/// Sample period of the other program, dead times.
const PERIOD: f64 = 0.02;

fn model(lag: f64) -> Model {
    if lag.is_finite() {
        Model::first_order(1.0, lag, 1.0)
    } else {
        Model::integrating(1.0, 1.0)
    }
}

fn best(case: &[Case], sensitivity_max: f64) -> host_harness::tune::optimise::Choice {
    let limits = Limits {
        sensitivity_max,
        noise_step_max: f64::INFINITY,
        ki_max: f64::INFINITY,
    };
    Search {
        scored: case,
        held: &[],
        limits,
    }
    .best(Terms::Pi)
    .expect("gains exist")
}

#[test]
fn least_error_against_an_independent_grid() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("independent/least_error.csv");
    let mut reader = csv::Reader::from_path(path).expect("the other program's figures");
    let mut checks = 0;
    for record in reader.records() {
        let field: Vec<f64> = record
            .unwrap()
            .iter()
            .map(|f| f.parse().expect("a number"))
            .collect();
        let [lag, limit, error, _, _] = field[..] else {
            panic!("five columns")
        };
        let case = [Case::at_input(&model(lag).linear(), PERIOD)];
        let found = best(&case, limit);
        // a grid never finds less than the least: a little less here is its own spacing
        assert!(
            (found.absolute_error / error - 1.0).abs() < 0.01,
            "lag {lag}, Ms {limit}: {found:?}, grid {error}"
        );
        assert!(found.sensitivity_max <= limit * (1.0 + 1e-6));
        assert!((case[0].margins(&found.law).sensitivity_max / limit - 1.0).abs() < 2e-3);
        checks += 1;
    }
    assert_eq!(checks, 18);
}

/// Each published PI rule, and what our choice makes of the same sensitivity.
#[test]
fn no_published_rule_has_less_error_at_its_own_sensitivity() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-harness/src/tune/equal_sensitivity.md");
    let documented = std::fs::read_to_string(path).expect("the table in the docs");
    let mut told = documented.lines().skip(2);
    let mut checks = 0;
    for lag in [0.5, 1.0, 2.0, 5.0, 10.0, f64::INFINITY] {
        let model = model(lag);
        let case = [Case::at_input(&model.linear(), PERIOD)];
        for rule in Rule::all(&model) {
            let Some(gains) = rule.gains(&model, Terms::Pi) else {
                continue;
            };
            let law = host_harness::margins::law::SampledLaw::of_times(
                gains.kp_per_kelvin,
                gains.ki_per_kelvin_second,
                0.0,
                3,
                PERIOD,
            );
            let margins = case[0].margins(&law);
            if !margins.stable || margins.sensitivity_max > 3.0 {
                continue;
            }
            let theirs = case[0].load_step(&law).absolute_error;
            let ours = best(&case, margins.sensitivity_max).absolute_error;
            let row = format!(
                "| {lag} | {} | {:.2} | {theirs:.2} | {ours:.2} | {:.2} |",
                rule.name(&model),
                margins.sensitivity_max,
                theirs / ours
            );
            assert_eq!(
                told.next(),
                Some(row.as_str()),
                "host-harness/src/tune/equal_sensitivity.md"
            );
            assert!(
                ours <= theirs * 1.002,
                "{lag} {}: {theirs} {ours}",
                rule.name(&model)
            );
            checks += 1;
        }
    }
    assert_eq!(checks, 44);
    assert_eq!(told.next(), None);
}
