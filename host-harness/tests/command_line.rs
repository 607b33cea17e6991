//! The program as its user meets it: exit status, what it says, what it leaves behind.

use std::path::Path;
use std::process::{Command, Output};

fn hushloop(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hushloop"))
        .args(args)
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn design(name: &str) -> String {
    format!("{}/designs/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

const FILES: [&str; 6] = [
    "firmware.rs",
    "firmware.h",
    "firmware.c",
    "report.html",
    "trace.csv",
    "verdict.json",
];

#[test]
fn a_good_design_is_built_and_exits_0_with_the_same_bytes_each_time() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let read = |dir: &Path| {
        FILES.map(|f| std::fs::read(dir.join(f)).unwrap_or_else(|e| panic!("{f}: {e}")))
    };
    let (one, two) = (temp.path().join("one"), temp.path().join("two"));
    for dir in [&one, &two] {
        let output = hushloop(&[
            "build",
            &design("studio-rack"),
            "--out",
            dir.to_str().expect("text"),
        ]);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        assert!(
            String::from_utf8_lossy(&output.stdout).contains("good"),
            "{output:?}"
        );
    }
    assert_eq!(read(&one), read(&two));
    // nothing else is left
    assert_eq!(
        std::fs::read_dir(&one).expect("the directory").count(),
        FILES.len()
    );
    let verdict: serde_json::Value =
        serde_json::from_slice(&std::fs::read(one.join("verdict.json")).expect("verdict"))
            .expect("JSON");
    assert_eq!(verdict["good"], true);
    assert_eq!(verdict["reasons"].as_array().map(Vec::len), Some(0));
    for path in [
        "/table/bytes",
        "/table/error_celsius_max",
        "/law/error_lsb_max",
        "/overflow/possible",
        "/loop/peak_celsius",
        "/loop/undershoot_celsius",
        "/loop/settling_s",
        "/loop/travel_per_hour",
        "/hunting/present",
        "/hunting/period_s",
        "/hunting/amplitude_celsius",
    ] {
        assert!(
            verdict.pointer(path).is_some_and(|v| !v.is_null()),
            "{path} is missing in {verdict:#}"
        );
    }
    assert_eq!(verdict["overflow"]["possible"], false);
}

#[test]
fn a_bad_design_writes_everything_refuses_to_compile_and_exits_1() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let out = temp.path().join("out");
    let output = hushloop(&[
        "build",
        &design("studio-rack-hunting"),
        "--out",
        out.to_str().expect("text"),
    ]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        text.contains("hunts: period") && text.contains("amplitude"),
        "{text}"
    );
    for file in FILES {
        assert!(out.join(file).is_file(), "{file}");
    }
    let firmware = std::fs::read_to_string(out.join("firmware.rs")).expect("firmware.rs");
    assert!(
        firmware.contains("compile_error!") && firmware.contains("hunts"),
        "{firmware}"
    );
    let header = std::fs::read_to_string(out.join("firmware.h")).expect("firmware.h");
    assert!(
        header.contains("#error") && header.contains("hunts"),
        "{header}"
    );
}

#[test]
fn a_wrong_file_exits_2_and_leaves_an_old_result_alone() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let out = temp.path().join("out");
    std::fs::create_dir(&out).expect("directory");
    std::fs::write(out.join("verdict.json"), "an earlier result").expect("file");
    let file = |name: &str, bytes: &[u8]| {
        let path = temp.path().join(name);
        std::fs::write(&path, bytes).expect("file");
        path.to_str().expect("text").to_owned()
    };
    let rack = std::fs::read_to_string(design("studio-rack")).expect("demo");
    let cases = [
        (file("empty.toml", b""), "is empty"),
        (
            temp.path().to_str().expect("text").to_owned(),
            "is a directory",
        ),
        (
            file("large.toml", &vec![b'#'; 10_000_000]),
            "10000000 bytes",
        ),
        (
            file("latin1.toml", b"title = \"caf\xe9\"\n"),
            "line 1 holds byte 0xe9",
        ),
        (
            temp.path()
                .join("nowhere.toml")
                .to_str()
                .expect("text")
                .to_owned(),
            "cannot be opened",
        ),
        (
            file("unit.toml", rack.replace("r25_ohm", "r25_kohm").as_bytes()),
            "r25_kohm",
        ),
        (
            file(
                "nan.toml",
                rack.replace("beta_kelvin = 3435", "beta_kelvin = nan")
                    .as_bytes(),
            ),
            "nan",
        ),
    ];
    for (path, words) in &cases {
        let output = hushloop(&["build", path, "--out", out.to_str().expect("text")]);
        assert_eq!(output.status.code(), Some(2), "{path}");
        let said = said(&output);
        assert!(
            said.contains(words) && said.contains("accepted"),
            "{path}: {said}"
        );
        assert!(output.stdout.is_empty());
    }
    assert_eq!(
        std::fs::read_to_string(out.join("verdict.json")).expect("file"),
        "an earlier result"
    );
    assert_eq!(
        std::fs::read_dir(&out).expect("directory").count(),
        1,
        "nothing was written beside it"
    );
}

#[test]
fn against_an_earlier_result_only_what_changed_is_printed() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let rack = std::fs::read_to_string(design("studio-rack")).expect("demo");
    let changed = temp.path().join("studio-rack.toml");
    std::fs::write(
        &changed,
        rack.replace("kp_percent_per_kelvin = 4", "kp_percent_per_kelvin = 5"),
    )
    .expect("file");
    let (old, new) = (temp.path().join("old"), temp.path().join("new"));
    let (old, new) = (old.to_str().expect("text"), new.to_str().expect("text"));
    assert_eq!(
        hushloop(&["build", &design("studio-rack"), "--out", old])
            .status
            .code(),
        Some(0)
    );
    let output = hushloop(&[
        "build",
        changed.to_str().expect("text"),
        "--out",
        new,
        "--against",
        old,
    ]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        text.contains("KP") && text.contains("travel_per_hour"),
        "{text}"
    );
    assert!(!text.contains("SENSOR"), "the table did not change: {text}");
    // and nothing changed when nothing changed
    let output = hushloop(&[
        "build",
        &design("studio-rack"),
        "--out",
        new,
        "--against",
        old,
    ]);
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("nothing changed"),
        "{output:?}"
    );
    // a directory that holds no result is refused
    let output = hushloop(&[
        "build",
        &design("studio-rack"),
        "--out",
        new,
        "--against",
        temp.path().to_str().expect("text"),
    ]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn simulate_and_keys_speak_json() {
    let output = hushloop(&["simulate", &design("seedling-tray"), "--json"]);
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(value["good"], true, "{value:#}");
    let output = hushloop(&["keys", "--json"]);
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(
        value
            .as_array()
            .is_some_and(|rows| rows.len() > 60 && rows.iter().all(|r| r["key"].is_string()))
    );
    // words and texts too, with what they may be: a file can be written from the list
    for (key, word) in [
        ("kind", "platinum"),
        ("sensor_side", "ground"),
        ("full_scale", "last-code"),
        ("reference", "fixed"),
        ("encoding", "smallest"),
        ("action", "heating"),
    ] {
        let row = value
            .as_array()
            .and_then(|rows| rows.iter().find(|r| r["key"] == key));
        let words = row.and_then(|r| r["words"].as_array());
        assert!(
            words.is_some_and(|words| words.iter().any(|w| w == word)),
            "{key}: {row:?}"
        );
        let text = String::from_utf8_lossy(&hushloop(&["keys"]).stdout).into_owned();
        assert!(text.contains(key) && text.contains(word), "{text}");
    }
    assert_eq!(hushloop(&["keys", "moon"]).status.code(), Some(2));
}

/// The rack with another integral gain, in a file of its own.
fn with_integral_gain(dir: &Path, percent: &str) -> String {
    let text = std::fs::read_to_string(design("studio-rack")).expect("the design");
    let changed: Vec<String> = text
        .lines()
        .map(|line| {
            if line.starts_with("ki_percent_per_kelvin_second") {
                format!("ki_percent_per_kelvin_second = {percent}")
            } else {
                line.to_owned()
            }
        })
        .collect();
    let path = dir.join("few.toml");
    std::fs::write(&path, changed.join("\n")).expect("the file");
    path.to_str().expect("text").to_owned()
}

#[test]
fn a_few_counts_of_integral_gain_come_with_what_to_do_about_them() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    // 0.00019074 % / K s * 0.5 s is 16.0 counts: accepted, but coarse.
    let few = with_integral_gain(temp.path(), "0.00019074");
    let output = hushloop(&["verify", &few]);
    let text = String::from_utf8_lossy(&output.stdout);
    let note = "note: ki is 16 counts, 6.2 % apart; at 64 or more it is within 0.8 %: period_s = 2 in place";
    assert!(
        text.contains(note) && text.ends_with("of 0.5 gives as many\n"),
        "{text}"
    );
    let out = temp.path().join("out");
    let output = hushloop(&["build", &few, "--out", out.to_str().expect("text")]);
    assert!(
        String::from_utf8_lossy(&output.stdout).contains(note),
        "{output:?}"
    );
    // 4.2 counts: refused, and the same is said.
    let output = hushloop(&["verify", &with_integral_gain(temp.path(), "0.00005")]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("period_s = 8 in place of 0.5"),
        "{}",
        said(&output)
    );
}
