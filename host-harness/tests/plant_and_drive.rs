//! What the simulated plant gets from the drive, on demo designs with a line changed.

use std::path::{Path, PathBuf};

use controller_core::duty::Duty;
use host_harness::build;
use host_harness::design::{self, Design, DesignError};
use host_harness::simulate::Response;

/// A demo design with lines of its text replaced, `(from, to)`; each must be there.
fn changed(name: &str, changes: &[(&str, &str)]) -> Result<Design, DesignError> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("designs/{name}.toml"));
    let mut text = std::fs::read_to_string(path).expect("a demo design");
    for (from, to) in changes {
        assert!(text.contains(from), "{name} has no `{from}`");
        text = text.replace(from, to);
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file: PathBuf = folder.path().join(format!("{name}.toml"));
    std::fs::write(&file, text).expect("written");
    design::load(&file)
}

fn respond(design: &Design) -> Response {
    let table = build::table(&design.sensing).expect("a table");
    build::respond(design, &table)
}

/// 2 s of 60 % in a sample of 20 s are 24 % on average, and the fan needs 25 % to start. From a standstill that comes
/// after each power-on, only a plant that sees the push itself starts it.
#[test]
fn a_push_starts_a_fan_at_a_long_sample_period() {
    for period in ["0.5", "20", "60"] {
        let design = changed(
            "studio-rack",
            &[
                ("period_s = 0.5", &format!("period_s = {period}")),
                ("kelvin_second = 0.07", "kelvin_second = 0.006"),
                ("duration_s = 14400", "duration_s = 12000"),
            ],
        )
        .unwrap_or_else(|e| panic!("{e}"));
        let response = respond(&design);
        let from = (600.0 / response.period_s) as usize;
        for loop_ in [&response.fixed, &response.real] {
            assert!(
                loop_[from..].iter().all(|s| s.fan_speed > 0.15),
                "the fan stands still at a period of {period} s"
            );
        }
    }
}

/// 15 ms are not two ticks of 10 ms; a mains half-cycle of 60 Hz is 8.333 ms, and 0.02 s are no whole number of them.
#[test]
fn a_period_is_a_whole_number_of_ticks_and_of_milliseconds() {
    let cases = [
        ("studio-rack", "0.015", Some("0.01 or 0.02")),
        ("studio-rack", "0.02", None),
        ("studio-rack", "0.4995", Some("0.49 or 0.5")),
        ("studio-rack", "59.999", Some("59.99 or 60")),
        ("seedling-tray", "2.005", Some("2 or 2.01")),
        ("seedling-tray", "2.01", None),
    ];
    for (name, period, accepted) in cases {
        let from = if name == "studio-rack" { "0.5" } else { "2" };
        let changes = [
            (
                &*format!("period_s = {from}\n"),
                &*format!("period_s = {period}\n"),
            ),
            ("burst_samples = 16", "burst_samples = 1"),
        ];
        match (changed(name, &changes), accepted) {
            (Ok(_), None) => {}
            (Err(error), Some(accepted)) => {
                let text = error.to_string();
                assert!(
                    text.contains("`loop.period_s`") && text.contains(accepted),
                    "{text}"
                );
            }
            (Ok(_), Some(_)) => panic!("{name}: {period} s was accepted"),
            (Err(error), None) => panic!("{name}: {error}"),
        }
    }
    for (period, legal) in [
        ("0.5", true),
        ("0.025", true),
        ("0.02", false),
        ("0.1", true),
    ] {
        let changes = [
            ("mains_hz = 50", "mains_hz = 60"),
            ("burst_hertz = 12800", "burst_hertz = 100000"),
            ("period_s = 0.5\n", &format!("period_s = {period}\n")),
        ];
        let read = changed("brew-kettle", &changes);
        assert_eq!(read.is_ok(), legal, "{period}: {:?}", read.err());
    }
}

/// With 16 counts a floor of 20 % is 3.2 counts: the pin never gives less than 4, a quarter, and the law must know.
#[test]
fn a_coarse_timer_s_floor_is_the_law_s() {
    let coarse = changed(
        "studio-rack",
        &[("pwm_period_counts = 320", "pwm_period_counts = 16")],
    )
    .unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(coarse.control.integers.lo, 8192);
    let response = respond(&coarse);
    let apart = response
        .fixed
        .iter()
        .zip(&response.real)
        .map(|(a, b)| (a.celsius - b.celsius).abs())
        .fold(0.0, f64::max);
    assert!(apart < 0.5, "{apart} K from real arithmetic");
    let fine = changed("studio-rack", &[]).unwrap_or_else(|e| panic!("{e}"));
    assert!(fine.control.integers.lo - Duty::fraction(0.2).bits() <= 1);
}
