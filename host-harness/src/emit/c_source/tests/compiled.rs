//! The pair as a C shop meets it: compiled by whatever compilers there are, without a warning, and run against the
//! crates over every code, the design's own scenario and random inputs.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::super::trial::Trial;
use super::rack;
use crate::build;
use crate::design::{self, Actuator};
use crate::emit::c_source::{Controller, emit};
use crate::emit::controller;
use crate::integers::LawIntegers;
use crate::plan::{Plan, temperature_word};

const WARNINGS: [&str; 5] = ["-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic"];
const SANITIZERS: [&str; 2] = ["-fsanitize=undefined,address", "-fno-sanitize-recover=all"];

fn runs(command: &mut Command) -> bool {
    command.output().is_ok_and(|output| output.status.success())
}

/// gcc and clang, as far as they are there, with the options to try: `None` and a word aloud without any compiler.
fn compilers(dir: &Path) -> Vec<(&'static str, &'static [&'static str])> {
    let probe = dir.join("probe.c");
    std::fs::write(&probe, "int main(void) { return 0; }\n").expect("a file");
    let mut found: Vec<(&str, &[&str])> = Vec::new();
    for compiler in ["gcc", "clang"] {
        for options in [&[][..], &SANITIZERS[..]] {
            let program = dir.join("probe");
            let works = runs(
                Command::new(compiler)
                    .args(options)
                    .arg(&probe)
                    .arg("-o")
                    .arg(&program),
            ) && runs(&mut Command::new(&program));
            if works {
                found.push((compiler, options));
            } else {
                #[allow(clippy::print_stderr)] // a test that tries less must say so
                {
                    eprintln!("NOT TRIED: {compiler} {options:?} does not work here");
                }
            }
        }
    }
    found
}

fn write(dir: &Path, controller: &Controller, samples: &[(i16, u16)]) -> (PathBuf, String) {
    let pair = emit(controller).expect("accepted");
    let trial = Trial {
        controller,
        samples,
        random_steps: 20_000,
    };
    let put = |name: &str, text: &str| std::fs::write(dir.join(name), text).expect("a file");
    put("firmware.h", &pair.header);
    put("firmware.c", &pair.source);
    put("trial.c", &trial.program());
    (dir.join("trial"), trial.expected())
}

fn compile(dir: &Path, compiler: &str, options: &[&str]) -> std::process::Output {
    Command::new(compiler)
        .args(WARNINGS)
        .args(options)
        .args(["firmware.c", "trial.c", "-o", "trial"])
        .current_dir(dir)
        .output()
        .expect("the compiler runs")
}

fn agrees(controller: &Controller, samples: &[(i16, u16)]) {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let (program, expected) = write(temp.path(), controller, samples);
    for (compiler, options) in compilers(temp.path()) {
        let output = compile(temp.path(), compiler, options);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{compiler} {options:?}: {said}");
        let output = Command::new(&program).output().expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{compiler} {options:?}: {said}");
        assert_eq!(
            String::from_utf8_lossy(&output.stdout),
            expected,
            "{} by {compiler} {options:?}",
            controller.title
        );
    }
}

fn demo(name: &str) -> design::Design {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("designs/{name}.toml"));
    design::load(&path).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn every_demo_design_in_c_gives_the_bits_of_the_crates() {
    let mut kinds = Vec::new();
    for name in ["studio-rack", "seedling-tray", "brew-kettle"] {
        let design = demo(name);
        let table = build::table(&design.sensing).expect("a table");
        let bits = design.sensing.table.fraction_bits;
        let response = build::respond(&design, &table);
        let samples: Vec<(i16, u16)> = response
            .fixed
            .iter()
            .step_by(response.fixed.len().div_ceil(2000))
            .map(|s| (temperature_word(s.set_point, bits), s.code))
            .collect();
        agrees(&controller(&design, &Plan::new(&design), &table), &samples);
        kinds.push((
            matches!(design.control.actuator, Actuator::Fan(_)),
            design.control.integers.has_derivative(),
        ));
    }
    assert!(kinds.contains(&(true, false)) && kinds.contains(&(false, true)));
}

#[test]
fn forms_that_no_demo_design_has_agree_as_well() {
    let samples: Vec<(i16, u16)> = (0..2000).map(|n| (2560, n % 1024)).collect();
    let base = rack();
    // a cooling loop without integral action starts at its least output
    let law = LawIntegers {
        ki: 0,
        kd: 0,
        ..base.law
    };
    agrees(&Controller { law, ..base }, &samples);
    let design = demo("seedling-tray");
    for (encoding, jumps) in [
        (design::Encoding::Zones, 0),
        (design::Encoding::Uniform, 0),
        (design::Encoding::Packed, 2),
    ] {
        let mut request =
            crate::tablegen::Request::of(design.sensing.sensor, &design.sensing.table);
        (request.encoding, request.jumps) = (encoding, jumps);
        let table = crate::tablegen::generate(&request).expect("a table");
        agrees(&controller(&design, &Plan::new(&design), &table), &samples);
    }
}

#[test]
fn what_build_writes_is_this_pair() {
    let design = demo("studio-rack");
    let table = build::table(&design.sensing).expect("a table");
    let built = build::build(&design).expect("built");
    let pair = emit(&controller(&design, &Plan::new(&design), &table)).expect("accepted");
    for (file, text) in [("firmware.h", &pair.header), ("firmware.c", &pair.source)] {
        let written = built.files.iter().find(|(n, _)| *n == file).expect(file);
        assert_eq!(String::from_utf8_lossy(&written.1), text.as_str());
    }
}

#[test]
fn a_bad_verdict_refuses_to_compile() {
    let temp = tempfile::tempdir().expect("a temporary directory");
    let built = build::build(&demo("studio-rack-hunting")).expect("built");
    assert!(!built.verdict.good);
    for (name, bytes) in &built.files {
        std::fs::write(temp.path().join(name), bytes).expect("a file");
    }
    for (compiler, _) in compilers(temp.path()) {
        let output = Command::new(compiler)
            .args(["-std=c99", "-c", "firmware.c"])
            .current_dir(temp.path())
            .output()
            .expect("the compiler runs");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(
            !output.status.success() && said.contains("the loop hunts"),
            "{compiler}: {said}"
        );
    }
}
