//! The emitted `firmware.rs` as firmware meets it: compiled in a `no_std` crate of its own against the two
//! crates, run over every ADC code, and refused by the compiler when an integer breaks a precondition.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use host_harness::design::keys;
use host_harness::reference::sensor::Truth;
use host_harness::tablegen::{Format, Layout, Request, Table, generate, render};
use host_harness::{build, design};

const GOOD: [&str; 3] = ["studio-rack", "seedling-tray", "brew-kettle"];

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("the workspace")
        .to_owned()
}

fn load(name: &str) -> design::Design {
    design::load(&repository().join(format!("host-harness/designs/{name}.toml")))
        .unwrap_or_else(|e| panic!("{e}"))
}

fn module(name: &str) -> String {
    let built = build::build(&load(name)).unwrap_or_else(|e| panic!("{e}"));
    let (_, bytes) = built
        .files
        .iter()
        .find(|(n, _)| *n == "firmware.rs")
        .expect("written");
    String::from_utf8(bytes.clone()).expect("text")
}

/// A crate beside the workspace that vendors the two crates as a firmware author would; `modules` are
/// (identifier, source), `main` runs on the host and may use them.
fn firmware_crate(modules: &[(&str, String)], main: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a temporary directory");
    let root = repository();
    let manifest = format!(
        "[package]\nname = \"emitted\"\nversion = \"0.0.0\"\nedition = \"2024\"\n\n[dependencies]\n\
         sensor-math = {{ path = {:?} }}\ncontroller-core = {{ path = {:?} }}\ntarget-support = {{ path = {:?} }}\n\
         fixed = {{ version = \"1.30\", default-features = false }}\n\n[workspace]\n",
        root.join("sensor-math"),
        root.join("controller-core"),
        root.join("target-support")
    );
    let mut lib =
        "#![no_std]\n#![forbid(unsafe_code)]\n#![deny(missing_docs)]\n//! Emitted modules.\n"
            .to_owned();
    let write = |name: &str, text: &str| {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a directory")).expect("directory");
        std::fs::write(path, text).expect("file");
    };
    for (identifier, source) in modules {
        write(&format!("src/{identifier}.rs"), source);
        lib += &format!(
            "/// One design.\npub mod {identifier} {{\n    include!(\"{identifier}.rs\");\n}}\n"
        );
    }
    write("Cargo.toml", &manifest);
    write("src/lib.rs", &lib);
    write("src/main.rs", main);
    // the workspace's own versions, so that nothing has to be fetched
    std::fs::copy(root.join("Cargo.lock"), dir.path().join("Cargo.lock")).expect("the lock file");
    dir
}

fn cargo(dir: &Path, verb: &str, target: &str) -> Output {
    Command::new(env!("CARGO"))
        .args([verb, "--offline", "--quiet"])
        .current_dir(dir)
        .env("CARGO_TARGET_DIR", repository().join("target").join(target))
        .env_remove("RUSTFLAGS")
        .output()
        .expect("cargo runs")
}

#[test]
fn every_adc_code_through_the_emitted_modules_agrees_with_the_oracle() {
    let modules: Vec<(String, String)> = GOOD
        .iter()
        .map(|n| (n.replace('-', "_"), module(n)))
        .collect();
    let borrowed: Vec<(&str, String)> = modules
        .iter()
        .map(|(n, s)| (n.as_str(), s.clone()))
        .collect();
    let mut main = "fn main() {\n".to_owned();
    for (identifier, _) in &modules {
        main += &format!(
            "    for code in 0..=u16::MAX {{\n        match emitted::{identifier}::THERMOMETER.read(code) {{\n            \
             Ok(t) => println!(\"{identifier} {{code}} {{}}\", t.to_bits()),\n            \
             Err(f) => println!(\"{identifier} {{code}} {{}}\", f.text()),\n        }}\n    }}\n    \
             let mut station = emitted::{identifier}::station();\n    \
             let alive = station.step(emitted::{identifier}::THERMOMETER.read(0), emitted::{identifier}::TICKS_PER_SAMPLE);\n    \
             let _ = station.output_tick();\n    println!(\"{identifier} station {{}}\", alive.is_some());\n"
        );
    }
    main += "}\n";
    let dir = firmware_crate(&borrowed, &main);
    let output = cargo(dir.path(), "run", "emitted-module");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = String::from_utf8(output.stdout).expect("text");
    for name in GOOD {
        let design = load(name);
        let (sensing, identifier) = (&design.sensing, name.replace('-', "_"));
        let truth = Truth::new(&sensing.sensor);
        let (bits, last_code) = (
            sensing.table.fraction_bits,
            (1u32 << sensing.sensor.adc.bits) - 1,
        );
        let (mut read, mut faults) = (0u32, 0u32);
        for line in text
            .lines()
            .filter_map(|l| l.strip_prefix(&format!("{identifier} ")))
        {
            let Some((code, value)) = line.split_once(' ') else {
                panic!("{line}")
            };
            if code == "station" {
                assert_eq!(value, "true");
                continue;
            }
            let code: u16 = code.parse().expect("a code");
            if u32::from(code) > last_code {
                continue;
            }
            let real = truth.celsius(code);
            match value.parse::<i32>() {
                Ok(word) => {
                    let error = f64::from(word) / f64::from(1u32 << bits) - real;
                    assert!(
                        error.abs() <= sensing.table.error_celsius,
                        "{name}: code {code} errs by {error}"
                    );
                    read += 1;
                }
                Err(_) => {
                    // a fault must lie outside the range, or within a code of its ends
                    let slack = (truth.celsius(code.saturating_add(1))
                        - truth.celsius(code.saturating_sub(1)))
                    .abs();
                    let inside = real > sensing.table.low_celsius + slack
                        && real < sensing.table.high_celsius - slack;
                    assert!(
                        !inside,
                        "{name}: code {code} ({real} degC) reads as {value}"
                    );
                    faults += 1;
                }
            }
        }
        assert_eq!(
            read + faults,
            last_code + 1,
            "{name}: every code was looked up"
        );
        assert!(
            read > 700 && faults > 50,
            "{name}: {read} readings, {faults} faults"
        );
    }
}

#[test]
fn the_compiler_refuses_a_bad_design_and_integers_that_break_a_precondition() {
    let rack = module("studio-rack");
    let kp = rack
        .split("kp: ")
        .nth(1)
        .and_then(|r| r.split(',').next())
        .expect("a gain")
        .to_owned();
    let cases: [(String, &str); 4] = [
        (module("studio-rack-hunting"), "the loop hunts"),
        (
            rack.replace(&format!("kp: {kp}, "), "kp: 65535, ")
                .replace("kd: 0, ", "kd: 65535, "),
            "kp + kd",
        ),
        (
            rack.replace("    32767, // upper limit", "    100, // upper limit"),
            "lo",
        ),
        (
            rack.replace(
                "fixed::FixedI16::from_bits(4864)",
                "fixed::FixedI16::from_bits(20000)",
            ),
            "set point",
        ),
    ];
    for (n, (source, words)) in cases.iter().enumerate() {
        assert_ne!(*source, rack, "case {n} changed nothing");
        let dir = firmware_crate(
            &[("design", source.clone())],
            "fn main() {\n    let _ = &emitted::design::STATION;\n}\n",
        );
        let output = cargo(dir.path(), "build", "emitted-refused");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success(), "case {n} compiled");
        assert!(said.contains(words), "case {n} ({words}): {said}");
    }
}

/// A table of each encoding, and of each word: what `hushloop table` prints as source text.
fn tables() -> Vec<(String, Table)> {
    let mut list = Vec::new();
    for (word, encoding) in keys::ENCODING.list().take(3) {
        for (name, jumps) in [("tables/beta-m10-100", 0), ("tables/steinhart-m10-100", 3)] {
            let path = repository().join(format!("host-harness/designs/{name}.toml"));
            let sensing = design::load_sensing(&path).unwrap_or_else(|e| panic!("{e}"));
            let mut request = Request::of(sensing.sensor, &sensing.table);
            (request.encoding, request.jumps) = (encoding, jumps);
            let table = generate(&request).unwrap_or_else(|e| panic!("{name}: {e}"));
            list.push((format!("{word}_{jumps}"), table));
        }
    }
    list
}

/// The text of `hushloop table --format rust` in a `no_std` crate: every code gives the word that was proven.
#[test]
fn every_table_as_rust_text_compiles_without_std_and_reads_what_was_proven() {
    let tables = tables();
    let modules: Vec<(&str, String)> = tables
        .iter()
        .map(|(name, table)| (name.as_str(), render(table, Format::Rust)))
        .collect();
    let mut main = "fn main() {\n    use sensor_math::table::Lookup;\n".to_owned();
    for (name, _) in &modules {
        main += &format!(
            "    for code in 0..=u16::MAX {{\n        let fault = emitted::{name}::THERMOMETER.read(code).err().map_or(0, |f| f.to_byte());\n        \
             println!(\"{name} {{code}} {{}} {{fault}}\", emitted::{name}::TABLE.lookup(code));\n    }}\n"
        );
    }
    main += "}\n";
    let dir = firmware_crate(&modules, &main);
    let output = cargo(dir.path(), "run", "emitted-tables");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = String::from_utf8(output.stdout).expect("text");
    let mut lines = text.lines();
    let mut cases = 0u32;
    for (name, table) in &tables {
        for code in 0..=u16::MAX {
            let fault = table.limits.fault(code).map_or(0, |f| f.to_byte());
            let wanted = format!("{name} {code} {} {fault}", table.layout.lookup(code));
            assert_eq!(lines.next(), Some(wanted.as_str()));
            cases += 1;
        }
    }
    assert_eq!(cases, 6 * 65_536);
}

/// The text of `--format c` with a lookup written from its names, by the C compiler where there is one.
#[test]
fn tables_as_c_text_compile_and_hold_the_same_integers() {
    if Command::new("gcc").arg("--version").output().is_err() {
        return; // nothing but Rust is needed; the gate has gcc
    }
    let temp = tempfile::tempdir().expect("a temporary directory");
    let mut read = 0u32;
    for (name, table) in tables() {
        let lookup = match table.layout {
            Layout::Uniform { .. } => {
                "if (c < SENSOR_FIRST) c = SENSOR_FIRST;
                if (c > SENSOR_LAST) c = SENSOR_LAST;
                i = (c - SENSOR_FIRST) >> SENSOR_SHIFT;
                f = (c - SENSOR_FIRST) & ((1 << SENSOR_SHIFT) - 1);
                s = SENSOR_SHIFT;"
            }
            Layout::Zones { .. } => {
                "if (c < SENSOR_FIRST) c = SENSOR_FIRST;
                if (c > SENSOR_LAST) c = SENSOR_LAST;
                if (c < SENSOR_ZONE_2) { s = SENSOR_SHIFT_1; i = 0; f = c - SENSOR_FIRST; }
                else if (c < SENSOR_ZONE_3) { s = SENSOR_SHIFT_2; f = c - SENSOR_ZONE_2;
                    i = (SENSOR_ZONE_2 - SENSOR_FIRST) >> SENSOR_SHIFT_1; }
                else { s = SENSOR_SHIFT_3; f = c - SENSOR_ZONE_3;
                    i = ((SENSOR_ZONE_2 - SENSOR_FIRST) >> SENSOR_SHIFT_1)
                        + ((SENSOR_ZONE_3 - SENSOR_ZONE_2) >> SENSOR_SHIFT_2); }
                i += f >> s;
                f &= (1 << s) - 1;"
            }
            Layout::Packed { .. } => continue, // the emitted header has its scan, with tests of its own
        };
        let source = format!(
            "{}#include <stdio.h>\nint main(void) {{
            for (long code = 0; code < 1024; code++) {{
                long c = code, i, f, s;
                {lookup}
                long half = (1L << s) >> 1, d = sensor_knots[i + 1] - sensor_knots[i];
                printf(\"%ld\\n\", sensor_knots[i] + ((d * f + half) >> s));
            }}
            return SENSOR_VALID_LAST < SENSOR_VALID_FIRST || SENSOR_OPEN == SENSOR_SHORT || SENSOR_FRACTION_BITS > 12;
            }}\n",
            render(&table, Format::C)
        );
        let (file, program) = (temp.path().join("table.c"), temp.path().join("table"));
        std::fs::write(&file, source).expect("file");
        let built = Command::new("gcc")
            .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-o"])
            .arg(&program)
            .arg(&file)
            .output()
            .expect("gcc runs");
        assert!(
            built.status.success(),
            "{name}: {}",
            String::from_utf8_lossy(&built.stderr)
        );
        let output = Command::new(&program).output().expect("it runs");
        assert!(output.status.success(), "{name}");
        let text = String::from_utf8(output.stdout).expect("text");
        for (code, line) in (0u16..1024).zip(text.lines()) {
            assert_eq!(
                line,
                table.layout.lookup(code).to_string(),
                "{name}: {code}"
            );
            read += 1;
        }
    }
    assert_eq!(read, 4 * 1024);
}
