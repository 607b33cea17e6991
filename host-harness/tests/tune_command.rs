//! `hushloop tune` as its user calls it.

use std::path::PathBuf;
use std::process::{Command, Output};

fn program(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hushloop"))
        .args(args)
        .output()
        .expect("the program runs")
}

/// A demo design in a place where it may be written to.
fn copy(name: &str, to: &tempfile::TempDir) -> PathBuf {
    let from = format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let path = to.path().join(format!("{name}.toml"));
    std::fs::copy(from, &path).expect("a copy");
    path
}

fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn the_mistuned_rack_gets_gains_that_do_not_hunt_and_keeps_its_comments() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = copy("studio-rack-hunting", &dir);
    let text = path.to_str().expect("a path");
    let before = std::fs::read_to_string(&path).expect("text");
    assert_eq!(program(&["simulate", text]).status.code(), Some(1));

    let dry = program(&["tune", text, "--dry-run"]);
    assert!(
        dry.status.success(),
        "{}",
        String::from_utf8_lossy(&dry.stderr)
    );
    assert_eq!(
        std::fs::read_to_string(&path).expect("text"),
        before,
        "a dry run writes nothing"
    );
    let told = String::from_utf8(dry.stdout).expect("text");
    assert!(
        told.contains("\n- ki_percent_per_kelvin_second = "),
        "{told}"
    );
    assert!(
        told.lines().all(|line| line.chars().count() <= 100),
        "{told}"
    );

    assert!(program(&["tune", text]).status.success());
    let after = std::fs::read_to_string(&path).expect("text");
    let comments = |t: &str| t.matches('#').count();
    assert_eq!(comments(&after), comments(&before));
    let tried = program(&["simulate", text, "--json"]);
    let found = json(&tried);
    assert!(tried.status.success(), "{found:#}");
    for margins in found["margins"].as_array().expect("margins") {
        assert!(
            margins["sensitivity_max"].as_f64().expect("stable") <= 1.6,
            "{margins}"
        );
    }
    // tuned again it is what it is
    let again = json(&program(&["tune", text, "--json"]));
    assert_eq!(again["written"], false, "{again:#}");
}

#[test]
fn a_model_alone_gets_rules_and_the_least_error() {
    let out = json(&program(&[
        "tune", "--model", "1,2,1", "--period", "0.02", "--json",
    ]));
    let offers = out["offers"].as_array().expect("offers");
    let ours = offers
        .iter()
        .find(|o| o["name"] == "least error, PI")
        .expect("our choice");
    // independent/least_error.csv: lag 2, Ms 1.6
    assert!(
        (ours["absolute_error"].as_f64().expect("a number") / 1.8983 - 1.0).abs() < 0.01,
        "{ours}"
    );
    assert!(offers.iter().any(|o| o["name"] == "SIMC, 1.0 L, PI"));
    let integrating = program(&["tune", "--model", "0.5,inf,3"]);
    assert!(integrating.status.success());
}

#[test]
fn what_cannot_be_tuned_is_refused_with_a_reason() {
    for args in [
        &["tune"][..],
        &["tune", "--model", "1,2"],
        &["tune", "--model", "1,-2,3"],
        &["tune", "--model", "1,2,nan"],
        &["tune", "no-such-file.toml"],
        &["tune", "--model", "1,2,1", "--sensitivity", "0.9"],
    ] {
        let out = program(args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(!out.stderr.is_empty());
    }
}
