//! The heavy rungs of the ladder, for `.ci/prove`.
//!
//! - `prove solve PYTHON [--renew DATE] [FILTER]`: every property with z3 and cvc5, and some of those at 8/16 once more
//!   as bit-vectors with bitwuzla. PYTHON is an interpreter that has the packages of `solvers/requirements.txt`. What was
//!   answered must be what the committed certificate says; with `--renew` it is written anew, as of that day.
//! - `prove exhaust`: every case at 8/16 of the stated settings.
//! - `prove list`: all properties, with how many questions each asks.
//!
//! Exit 0 when all is as expected, 1 when not, 2 when nothing could be run.

// The catalogue names every property in one way, with all parameters of the law, whether or not it multiplies.
#![allow(clippy::extra_unused_type_parameters)]

mod catalogue;
mod exhaust;
mod shapers;
mod switching;
mod variation;

use hushloop_proof::certificate::{self, Certificate};
use hushloop_proof::solve::{self, Property, Report, Solver};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

/// Seconds of wall time a question: a machine that is shared by many must not turn a slow answer into none.
const LIMIT_S: u32 = 600;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments[..] {
        ["solve", python] => solve_all(python.as_ref(), "", None),
        ["solve", python, "--renew", date] => solve_all(python.as_ref(), "", Some(date)),
        ["solve", python, filter] => solve_all(python.as_ref(), filter, None),
        ["exhaust"] => exhaust_all(),
        ["list"] => {
            for property in catalogue::all() {
                let asked = hushloop_proof::solve::questions(&property);
                println!("{:5} {}", asked.list.len(), property.name());
            }
            ExitCode::SUCCESS
        }
        _ => {
            eprintln!(
                "usage: prove solve PYTHON [--renew DATE | FILTER] | prove exhaust | prove list"
            );
            ExitCode::from(2)
        }
    }
}

fn print(report: &Report, solvers: &[Solver], start: Instant) {
    for o in &report.outcomes {
        let mark = if o.good { "ok " } else { "BAD" };
        println!(
            "{mark} {:4} paths {:4} by ranges {:4} questions  {}",
            o.paths,
            o.by_ranges,
            o.questions,
            o.name()
        );
        for note in &o.notes {
            println!("      {note}");
        }
    }
    for f in &report.failures {
        println!("FAILURE {f}");
    }
    let names: Vec<&str> = solvers.iter().map(|s| s.name.as_str()).collect();
    println!(
        "{}: {} properties, {} questions: {} obligations proven, {} controls, {} counterexamples replayed, {} failures, solver seconds {:?}, wall {:.1} s",
        names.join(" and "),
        report.outcomes.len(),
        report.questions,
        report.obligations,
        report.controls,
        report.replayed,
        report.failures.len(),
        report.seconds,
        start.elapsed().as_secs_f64(),
    );
}

/// Those that the bit-vectors' solver answers in seconds: with true products some questions take minutes.
fn quick_as_bits(p: &Property) -> bool {
    let small = p.scope.bits == 8 && p.scope.scale == 4 && p.scope.cooling;
    let quick = [
        "pi_exact",
        "absorb_exact",
        "no_dead_zone",
        "begins",
        "shape",
    ];
    let filtered = p.statement == "pid_exact"
        && p.scope.filter == Some(3)
        && p.scope.comparison == hushloop_proof::scope::Comparison::Whole;
    small && (quick.contains(&p.statement) || filtered)
}

fn asked(
    properties: &[Property],
    python: &Path,
    names: &[&str],
    facts: bool,
) -> Result<Report, ExitCode> {
    let solvers: Vec<Solver> = names.iter().map(|n| Solver::of_python(python, n)).collect();
    let start = Instant::now();
    let told = |n: usize| eprintln!("{n} answers to come");
    let report =
        solve::run(properties, &solvers, facts, LIMIT_S, &told, &|| {}).map_err(|error| {
            eprintln!("prove: {error}");
            ExitCode::from(2)
        })?;
    print(&report, &solvers, start);
    if report.questions == 0 {
        eprintln!("prove: no question was asked");
        return Err(ExitCode::from(2));
    }
    Ok(report)
}

fn solve_all(python: &Path, filter: &str, renew: Option<&str>) -> ExitCode {
    let mut properties = catalogue::all();
    properties.retain(|p| p.name().contains(filter));
    if properties.is_empty() {
        eprintln!("prove: no property is called {filter}");
        return ExitCode::from(2);
    }
    let report = match asked(&properties, python, &["z3", "cvc5"], true) {
        Ok(report) => report,
        Err(code) => return code,
    };
    let mut good = report.failures.is_empty();
    properties.retain(quick_as_bits);
    if !properties.is_empty() {
        good &= match asked(&properties, python, &["bitwuzla"], false) {
            Ok(report) => report.failures.is_empty(),
            Err(code) => return code,
        };
    }
    if good && filter.is_empty() {
        good = certified(&report, renew);
    }
    if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
}

/// Does the committed certificate say what was answered now: the same properties, questions and counts?
fn certified(report: &Report, renew: Option<&str>) -> bool {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("certificate.txt");
    if let Some(date) = renew {
        let written = certificate::write(report, date).map(|text| std::fs::write(&path, text));
        let done = matches!(written, Some(Ok(())));
        println!(
            "certificate {}",
            if done { "written" } else { "not written" }
        );
        return done;
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let date = match Certificate::read(&committed) {
        Ok(certificate) => certificate.date,
        Err(refused) => {
            println!("FAILURE {refused}");
            return false;
        }
    };
    let same = certificate::write(report, &date).is_some_and(|now| now == committed);
    if same {
        println!("as the certificate of {date} says, line by line");
    } else {
        println!(
            "FAILURE the certificate of {date} says something else: other solvers' versions, properties or questions; \
             `prove solve PYTHON --renew DATE` writes it anew"
        );
    }
    same
}

fn exhaust_all() -> ExitCode {
    let mut good = true;
    let (cases, bad) = exhaust::every_error();
    println!("every measurement, set point and action at 8 bits: {cases} cases, {bad} wrong");
    good &= bad == 0 && cases == 131_072;
    let (cases, bad) = exhaust::maps_are_separate();
    println!("output ignores ki, integrator ignores kp: {cases} cases, {bad} wrong");
    good &= bad == 0 && cases > 5_000_000;
    let gains: Vec<u8> = (0..=255).collect();
    for setting in exhaust::SETTINGS {
        let start = Instant::now();
        let done = exhaust::run(setting, &gains);
        let expected = exhaust::expected_triples(setting);
        println!(
            "8/16 (SP, lo, hi) = {setting:?}: {} of {expected} triples (I, e, k), both maps, both comparisons, {} wrong, {:.1} s",
            done.triples,
            done.mismatches,
            start.elapsed().as_secs_f64(),
        );
        good &= done.mismatches == 0 && done.triples == expected;
    }
    if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
}
