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
        "/loop/stayed_s",
        "/loop/offset_celsius",
        "/travel/motion_per_hour",
        "/travel/jitter_per_hour",
        "/travel/largest_step_percent",
        "/travel/starts_per_hour",
        "/judged/stretches",
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
        text.contains("KP") && text.contains("motion_per_hour"),
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
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let note = "note: ki is 16 counts, 6.2 % apart; at 64 or more it is within 0.8 %: period_s = 2 in place of 0.5 gives as \
                many";
    assert!(words(&text).ends_with(note), "{text}");
    let out = temp.path().join("out");
    let output = hushloop(&["build", &few, "--out", out.to_str().expect("text")]);
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(words(&text).contains(note), "{text}");
    // 4.2 counts: refused, and the same is said.
    let output = hushloop(&["verify", &with_integral_gain(temp.path(), "0.00005")]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("period_s = 8 in place of 0.5"),
        "{}",
        said(&output)
    );
}

/// What the program prints fits a pipe's 100 characters, for every command, and so do its refusals.
#[test]
fn no_line_is_longer_than_a_hundred_characters() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let out = |name: &str| temp.path().join(name).to_str().expect("text").to_owned();
    let (rack, kettle) = (design("studio-rack"), design("brew-kettle"));
    let (one, two) = (out("one"), out("two"));
    let wrong = with_integral_gain(temp.path(), "9");
    let calls: [&[&str]; 10] = [
        &["build", &rack, "--out", &one],
        &["build", &kettle, "--out", &two, "--against", &one],
        &["simulate", &rack],
        &["divider", &kettle],
        &["divider", &rack, "--check", "36:0.923V", "48:1.088V"],
        &["table", &kettle],
        &["verify", &kettle],
        &["keys"],
        &["verify", &wrong],
        &["keys", "moon"],
    ];
    let mut lines = 0;
    for call in calls {
        let output = hushloop(call);
        for text in [&output.stdout, &output.stderr] {
            for line in String::from_utf8_lossy(text).lines() {
                // a path is not broken, so that it can be copied
                let path = line.contains(temp.path().to_str().expect("text"));
                assert!(path || line.chars().count() <= 100, "{call:?}: {line}");
                lines += 1;
            }
        }
    }
    assert!(lines > 150, "{lines}");
}

/// A reader that has seen enough is no failure of any command: no panic, and the status that the work deserves.
#[test]
fn a_closed_pipe_is_no_failure() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let out = temp.path().join("out");
    let (rack, hunting) = (design("studio-rack"), design("studio-rack-hunting"));
    let calls: [(&[&str], i32); 8] = [
        (&["keys"], 0),
        (&["keys", "--json"], 0),
        (&["table", &rack, "--format", "csv"], 0),
        (&["divider", &rack], 0),
        (&["simulate", &hunting], 1),
        (&["verify", &rack], 0),
        (
            &["build", &hunting, "--out", out.to_str().expect("text")],
            1,
        ),
        (&["keys", "moon"], 2),
    ];
    for (call, status) in calls {
        let mut child = Command::new(env!("CARGO_BIN_EXE_hushloop"))
            .args(call)
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .expect("the program runs");
        // both ends go before anything is printed
        drop(child.stdout.take());
        drop(child.stderr.take());
        assert_eq!(
            child.wait().expect("it ends").code(),
            Some(status),
            "{call:?}"
        );
    }
}

/// A result is replaced as a whole; beside files of somebody else it is written file by file; nothing else is left.
#[test]
fn results_take_the_place_of_earlier_ones_and_of_nothing_else() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let names = |dir: &Path| -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(dir)
            .expect("a directory")
            .map(|entry| {
                entry
                    .expect("an entry")
                    .file_name()
                    .into_string()
                    .expect("text")
            })
            .collect();
        names.sort();
        names
    };
    let build = |dir: &Path| {
        let output = hushloop(&[
            "build",
            &design("studio-rack"),
            "--out",
            dir.to_str().expect("text"),
        ]);
        assert!(
            output.status.code().is_some_and(|code| code < 2),
            "{}",
            said(&output)
        );
    };
    let out = temp.path().join("results").join("out");
    build(&out);
    let mut six = FILES.map(str::to_owned);
    six.sort();
    assert_eq!(names(&out), six);
    // what a killed run left is cleared, and an old result is replaced
    let left = temp.path().join("results").join(".out.hushloop-abc123");
    std::fs::create_dir(&left).expect("a directory");
    std::fs::write(left.join("firmware.c"), "half").expect("a file");
    std::fs::write(out.join("verdict.json"), "old").expect("a file");
    build(&out);
    assert_eq!(names(&temp.path().join("results")), ["out"]);
    assert_eq!(names(&out), six);
    assert_ne!(
        std::fs::read(out.join("verdict.json")).expect("a file"),
        b"old"
    );
    // a file of somebody else stays
    std::fs::write(out.join("notes.txt"), "mine").expect("a file");
    std::fs::write(out.join("verdict.json"), "old").expect("a file");
    build(&out);
    assert_eq!(
        std::fs::read(out.join("notes.txt")).expect("a file"),
        b"mine"
    );
    assert_ne!(
        std::fs::read(out.join("verdict.json")).expect("a file"),
        b"old"
    );
    assert_eq!(names(&out).len(), 7);
}

/// The error budget of these is infinite somewhere; their builds never ended.
#[test]
fn an_error_budget_without_bound_ends() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let rack = std::fs::read_to_string(design("studio-rack")).expect("the design");
    let cases = [
        (
            "r25_ohm = 100000",
            "resistor_ohm = 4700",
            "low_celsius = -30",
        ),
        (
            "r25_ohm = 10000",
            "resistor_ohm = 1000",
            "low_celsius = -40",
        ),
    ];
    for (r25, resistor, low) in cases {
        let text = rack
            .replace("r25_ohm = 10000", r25)
            .replace("resistor_ohm = 10000", resistor)
            .replace("low_celsius = -10", low)
            .replace("error_celsius = 0.1", "error_celsius = 2")
            .replace("duration_s = 14400", "duration_s = 12000");
        let path = temp.path().join("infinite.toml");
        std::fs::write(&path, text).expect("the file");
        let out = temp.path().join("out");
        let arguments = [
            path.to_str().expect("text"),
            "--out",
            out.to_str().expect("text"),
        ];
        let output = hushloop(&[&["build"][..], &arguments].concat());
        assert!(output.status.code().is_some(), "{r25}: {}", said(&output));
        let divider = hushloop(&["divider", arguments[0]]);
        assert!(
            !String::from_utf8_lossy(&divider.stdout).contains("inf"),
            "{divider:?}"
        );
    }
}
