//! The C file pairs: written for three cases and for every demo design, compiled for the host by two compilers with
//! sanitizers and for the targets that have a C compiler, run, and compared with the Rust crates. `c_compilers` puts the
//! three cases into the figures image as well.

use crate::c_compilers;
use crate::closed_loop;
use crate::report::Report;
use crate::simulator;
use crate::target::Target;
use crate::tree::Tree;
use controller_core::law::Action;
use exercise::{cases, laws, tables};
use host_harness::build;
use host_harness::emit::c_source::trial::Trial;
use host_harness::emit::c_source::{Controller, emit};
use host_harness::emit::controller;
use host_harness::integers::LawIntegers;
use host_harness::plan::{Plan, temperature_word};
use host_harness::tablegen::Layout;
use sensor_math::fault::Limits;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Random steps on the host, and on a target.
const STEPS: u32 = 200_000;
const STEPS_ON_TARGET: u32 = 20_000;
/// Samples of a design's scenario: as many as fit the RAM of the smallest simulated machine that holds them.
const SAMPLES: usize = 2_000;

/// A pair to try.
pub struct Pair {
    controller: Controller,
    samples: Vec<(i16, u16)>,
    directory: PathBuf,
    /// Whether the figures image links it.
    is_case: bool,
}

impl Pair {
    fn name(&self) -> String {
        let name = self.directory.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }

    fn source(&self) -> PathBuf {
        self.directory
            .join(&self.controller.file)
            .with_extension("c")
    }
}

/// The sources that the figures image links.
pub fn cases_of(pairs: &[Pair]) -> Vec<PathBuf> {
    pairs
        .iter()
        .filter(|pair| pair.is_case)
        .map(Pair::source)
        .collect()
}

fn cases() -> [Controller; 3] {
    let law = |settings: laws::Gains, kd: u16| LawIntegers {
        kp: settings.mantissas().kp,
        ki: settings.mantissas().ki,
        kd,
        scale: laws::SP,
        filter_exponent: laws::K,
        lo: settings.lo(),
        hi: settings.hi(),
        action: Action::Direct,
    };
    let heat = cases::HEAT_PID;
    let pair = |prefix: &str, law, table| Controller {
        file: prefix.to_owned(),
        prefix: prefix.to_owned(),
        title: format!("Case {prefix}"),
        law,
        table,
        limits: Limits::new(tables::FIRST, tables::LAST, 20, 1010),
        temperature_fraction_bits: 7,
        integers: Vec::new(),
        refusal: None,
    };
    [
        pair(
            "cool_pi",
            law(cases::COOL_PI, 0),
            Layout::Uniform {
                first: tables::FIRST,
                last: tables::LAST,
                shift: tables::UNIFORM_SHIFT,
                knots: tables::UNIFORM_KNOTS.to_vec(),
            },
        ),
        pair(
            "cool_pid",
            law(cases::COOL_PID, cases::COOL_PID.mantissas().kd),
            Layout::Zones {
                codes: (
                    tables::FIRST,
                    tables::FIRST_END,
                    tables::SECOND_END,
                    tables::LAST,
                ),
                shifts: tables::ZONE_SHIFTS.into(),
                knots: tables::ZONES_KNOTS.to_vec(),
            },
        ),
        pair(
            "heat_pid",
            LawIntegers {
                kp: heat.mantissas().kp,
                ki: heat.mantissas().ki,
                kd: heat.mantissas().kd,
                scale: cases::HEAT_SP,
                filter_exponent: cases::HEAT_K,
                lo: heat.lo(),
                hi: heat.hi(),
                action: Action::Reverse,
            },
            Layout::Packed {
                first: cases::PACKED_FIRST,
                origin: cases::PACKED_ORIGIN,
                segments: cases::PACKED_SEGMENTS,
                shape: cases::PACKED_SHAPE,
                bytes: cases::PACKED_BYTES.to_vec(),
                jumps: vec![cases::PACKED_JUMP],
            },
        ),
    ]
}

/// The pair that `hushloop build` writes for a design, with its own scenario.
fn of_design(tree: &Tree, name: &str) -> Result<(Controller, Vec<(i16, u16)>), String> {
    let design = closed_loop::load(tree, name)?;
    let table = build::table(&design.sensing).map_err(|error| error.to_string())?;
    let bits = design.sensing.table.fraction_bits;
    let response = build::respond(&design, &table);
    let samples = response
        .fixed
        .iter()
        .step_by(response.fixed.len().div_ceil(SAMPLES).max(1))
        .map(|sample| (temperature_word(sample.set_point, bits), sample.code))
        .collect();
    Ok((controller(&design, &Plan::new(&design), &table), samples))
}

/// Writes every pair.
pub fn write(tree: &Tree) -> Result<Vec<Pair>, String> {
    let mut pairs = Vec::new();
    for controller in cases() {
        let codes = (0..SAMPLES as u16).map(|n| (exercise::input::SET_POINT, n % tables::CODES));
        pairs.push((controller.file.clone(), controller, codes.collect(), true));
    }
    for name in closed_loop::names() {
        let (controller, samples) = of_design(tree, name)?;
        pairs.push((name.to_owned(), controller, samples, false));
    }
    let put =
        |path: PathBuf, text: String| std::fs::write(path, text).map_err(|error| error.to_string());
    let mut written = Vec::new();
    for (name, controller, samples, is_case) in pairs {
        let directory = tree.output().join("c-source").join(name);
        std::fs::create_dir_all(&directory).map_err(|error| error.to_string())?;
        let pair = emit(&controller).map_err(|refusal| refusal.to_string())?;
        put(
            directory.join(&controller.file).with_extension("h"),
            pair.header,
        )?;
        put(
            directory.join(&controller.file).with_extension("c"),
            pair.source,
        )?;
        written.push(Pair {
            controller,
            samples,
            directory,
            is_case,
        });
    }
    Ok(written)
}

/// Writes a pair's trial beside it; what it must print.
fn trial(pair: &Pair, random_steps: u32) -> Result<(PathBuf, String), String> {
    let trial = Trial {
        controller: &pair.controller,
        samples: &pair.samples,
        random_steps,
    };
    let path = pair.directory.join(format!("trial_{random_steps}.c"));
    std::fs::write(&path, trial.program()).map_err(|error| error.to_string())?;
    Ok((path, trial.expected()))
}

const WARNINGS: [&str; 9] = [
    "-std=c99",
    "-pedantic",
    "-Wall",
    "-Wextra",
    "-Werror",
    "-Wconversion",
    "-Wshadow",
    "-Wtype-limits",
    "-O2",
];

fn run_on_host(
    compiler: &str,
    sanitize: bool,
    pair: &Pair,
    trial: &Path,
) -> Result<String, String> {
    let program = pair.directory.join(format!(
        "{compiler}{}",
        if sanitize { "-sanitized" } else { "" }
    ));
    let object = program.with_extension("o");
    let mut options: Vec<&str> = Vec::new();
    if sanitize {
        options.extend([
            "-fsanitize=undefined,address",
            "-fno-sanitize-recover=all",
            "-g",
        ]);
    }
    // The pair under every warning; its trial, which is ours alone, under none.
    c_compilers::run(
        Command::new(compiler)
            .args(WARNINGS)
            .args(&options)
            .arg("-c")
            .arg(pair.source())
            .arg("-o")
            .arg(&object),
    )?;
    c_compilers::run(
        Command::new(compiler)
            .arg("-std=c99")
            .args(&options)
            .arg(trial)
            .arg(&object)
            .arg("-o")
            .arg(&program),
    )?;
    c_compilers::run(Command::new("timeout").arg("60").arg(&program))
}

fn same(got: &str, expected: &str) -> Result<String, String> {
    if got.trim() == expected.trim() {
        Ok(String::new())
    } else {
        Err(format!("got {got:?}, the Rust crates give {expected:?}"))
    }
}

/// Compares the C pairs with the Rust crates on the host.
pub fn check(pairs: &[Pair], report: &mut Report) {
    for pair in pairs {
        let trial = trial(pair, STEPS);
        for compiler in ["gcc", "clang"] {
            for sanitize in [false, true] {
                let what = format!(
                    "{} in C by {compiler}{}: every 16-bit code, {} samples, {STEPS} random steps",
                    pair.name(),
                    if sanitize { " with sanitizers" } else { "" },
                    pair.samples.len(),
                );
                let result = trial.clone().and_then(|(trial, expected)| {
                    same(&run_on_host(compiler, sanitize, pair, &trial)?, &expected)
                });
                report.check(&what, result);
            }
        }
    }
}

/// The pair and its trial, nothing else, as a program on a simulated target.
fn run_on_target(tree: &Tree, target: Target, pair: &Pair) -> Result<String, String> {
    let (trial, expected) = trial(pair, STEPS_ON_TARGET)?;
    let program = pair.directory.join(format!("{}.elf", target.triple()));
    c_compilers::program(tree, target, &[pair.source(), trial], &program)?;
    let text = simulator::run(target, &program)?;
    let names = ["temperatures", "faults", "scenario", "random"];
    let got: Vec<&str> = text
        .lines()
        .filter(|line| names.iter().any(|name| line.starts_with(name)))
        .collect();
    same(&got.join("\n"), &expected)
}

/// The same on the targets that have a C compiler: the traces of every demo design.
pub fn check_on_targets(tree: &Tree, targets: &[Target], pairs: &[Pair], report: &mut Report) {
    for target in targets
        .iter()
        .filter(|target| c_compilers::is_packaged(**target))
    {
        for pair in pairs.iter().filter(|pair| !pair.is_case) {
            let what = format!(
                "{} in C on {}: every 16-bit code, {} samples, {STEPS_ON_TARGET} random steps",
                pair.name(),
                target.triple(),
                pair.samples.len(),
            );
            report.check(&what, run_on_target(tree, *target, pair));
        }
    }
}
