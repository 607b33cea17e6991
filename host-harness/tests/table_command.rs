//! `hushloop table` and `hushloop divider` as their user meets them: what cannot be is refused with exit status 2, says
//! why, and leaves nothing behind.

use std::path::Path;
use std::process::{Command, Output};

fn hushloop(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hushloop"))
        .args(args)
        .output()
        .expect("the program runs")
}

fn design(name: &str) -> String {
    format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

/// The sensor of `tables/beta-m10-100` with a line of its file replaced.
fn changed(folder: &Path, from: &str, to: &str) -> String {
    let text = std::fs::read_to_string(design("tables/beta-m10-100")).expect("a design");
    assert!(text.contains(from), "no {from}");
    let path = folder.join("changed.toml");
    std::fs::write(&path, text.replace(from, to)).expect("file");
    path.to_str().expect("text").to_owned()
}

const CURVE: &str = "kind = \"ntc-beta\"\nr25_ohm = 10000\nbeta_kelvin = 3435";

#[test]
fn what_cannot_be_is_refused_and_nothing_is_written() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let folder = temp.path();
    let out = folder.join("table.rs");
    let points = |list: &str| format!("kind = \"points\"\npoints = {list}");
    // (what is replaced in the design, by what, further arguments, what must be said)
    let good = "bits = 10";
    let cases: [(&str, String, &[&str], &str); 14] = [
        (
            good,
            good.to_owned(),
            &["--error-celsius", "0"],
            "must be a number above 0",
        ),
        (
            good,
            good.to_owned(),
            &["--error-celsius", "-0.1"],
            "must be a number above 0",
        ),
        (
            good,
            good.to_owned(),
            &["--error-celsius", "nan"],
            "must be a number above 0",
        ),
        (
            good,
            good.to_owned(),
            &["--error-celsius", "0.001"],
            "cannot be reached",
        ),
        (
            "low_celsius = -10\nhigh_celsius = 100",
            "low_celsius = -40\nhigh_celsius = 125".to_owned(),
            &["--error-celsius", "0.004", "--encoding", "packed"],
            "there is no packed",
        ),
        (
            good,
            good.to_owned(),
            &["--jumps", "4", "--encoding", "packed"],
            "0 to 3",
        ),
        (
            "error_celsius = 0.1",
            "error_celsius = 0".to_owned(),
            &[],
            "table.error_celsius",
        ),
        (
            "resistor_ohm = 10000",
            "resistor_ohm = 10000000".to_owned(),
            &[],
            "cannot see the range",
        ),
        (
            "high_celsius = 100",
            "high_celsius = 400".to_owned(),
            &[],
            "sensor's curve covers",
        ),
        (
            "high_celsius = 100",
            "high_celsius = -20".to_owned(),
            &[],
            "not above low_celsius",
        ),
        (
            CURVE,
            points("[[-20, 90000], [40, 5000], [70, 6000], [110, 700]]"),
            &[],
            "sensor.points",
        ),
        (
            CURVE,
            points("[[-20, 90000], [40, 5000], [40, 5000], [110, 700]]"),
            &[],
            "sensor.points",
        ),
        (
            CURVE,
            points("[[-20, 90000], [40, 5000], [70, 5000], [110, 700]]"),
            &[],
            "sensor.points",
        ),
        (
            CURVE,
            "kind = \"ntc-steinhart-hart\"\nthrough = [[0, 30000], [25, 10000], [25, 10000]]"
                .to_owned(),
            &[],
            "two fit points",
        ),
    ];
    let mut refused = 0;
    for earlier in [None, Some("an earlier table")] {
        for (from, to, further, said) in &cases {
            let file = changed(folder, from, to);
            let _ = std::fs::remove_file(&out);
            if let Some(text) = earlier {
                std::fs::write(&out, text).expect("file");
            }
            let before = std::fs::read_dir(folder).expect("directory").count();
            let path = out.to_str().expect("text");
            let args = [
                &["table", &file, "--format", "rust", "--out", path],
                *further,
            ]
            .concat();
            let output = hushloop(&args);
            let text = String::from_utf8_lossy(&output.stderr).into_owned();
            assert_eq!(output.status.code(), Some(2), "{to} {further:?}: {text}");
            assert!(text.contains(said), "{to} {further:?}: {text}");
            assert!(output.stdout.is_empty());
            assert_eq!(std::fs::read_to_string(&out).ok().as_deref(), earlier);
            assert_eq!(
                std::fs::read_dir(folder).expect("directory").count(),
                before
            );
            refused += 1;
        }
    }
    assert_eq!(refused, 28);
}

#[test]
fn the_figures_that_were_asked_for_are_there() {
    let output = hushloop(&[
        "table",
        &design("tables/beta-m10-100"),
        "--encoding",
        "zones",
        "--error-celsius",
        "0.1",
        "--json",
    ]);
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    for key in [
        "bytes",
        "error_celsius_max",
        "segments",
        "bound_ratio",
        "free_width_bound_ratio",
        "fraction_of_codes_below_half_lsb",
    ] {
        assert!(value[key].is_number(), "{key} in {value:#}");
    }
    assert!(value["bytes"].as_u64().is_some_and(|bytes| bytes <= 50));
}

/// `hushloop divider`: the alias check in both forms, and none without a loop.
#[test]
fn the_divider_says_what_sampling_does_to_hum_and_ripple() {
    let output = hushloop(&["divider", &design("studio-rack"), "--json"]);
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let list = value["sampling"].as_array().expect("a list");
    assert_eq!(list.len(), 5);
    for row in list {
        assert!(
            row["hertz"].is_number() && row["left"].is_number() && row["alias_hertz"].is_number()
        );
        assert_eq!(row["critical"], false, "{row:#}");
    }
    let text =
        |name: &str| String::from_utf8(hushloop(&["divider", &design(name)]).stdout).expect("text");
    let rack = text("studio-rack");
    assert!(
        rack.contains("mains hum") && rack.contains("25000"),
        "{rack}"
    );
    assert!(text("tables/beta-m10-100").contains("not judged"));
    let temp = tempfile::tempdir().expect("a temporary directory");
    let bare = std::fs::read_to_string(design("studio-rack"))
        .expect("a design")
        .replace("burst_", "# burst_");
    let path = temp.path().join("bare.toml");
    std::fs::write(&path, bare).expect("file");
    let output = hushloop(&["divider", path.to_str().expect("text")]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        text.contains("slow enough for the loop to follow"),
        "{text}"
    );
    assert!(text.contains("adc.burst_samples"), "{text}");
}
