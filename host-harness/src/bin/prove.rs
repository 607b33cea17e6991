//! The heavy rungs of the ladder, for `.ci/prove`.
//!
//! - `prove solve PYTHON [FILTER]`: every property with z3 and cvc5, and some of those at 8/16 once more as bit-vectors
//!   with bitwuzla. PYTHON is an interpreter that has the packages of `solvers/requirements.txt`.
//! - `prove exhaust`: every case at 8/16 of the stated settings.
//!
//! Exit 0 when all is as expected, 1 when not, 2 when nothing could be run.

use host_harness::verify::solve::{self, Report};
use host_harness::verify::{catalogue, exhaust};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments[..] {
        ["solve", python] => solve_all(python.into(), ""),
        ["solve", python, filter] => solve_all(python.into(), filter),
        ["exhaust"] => exhaust_all(),
        _ => {
            eprintln!("usage: prove solve PYTHON [FILTER] | prove exhaust");
            ExitCode::from(2)
        }
    }
}

fn print(report: &Report, solvers: &[&str], start: Instant) {
    for o in &report.outcomes {
        let mark = if o.good { "ok " } else { "BAD" };
        println!(
            "{mark} {:4} paths {:4} by ranges {:4} questions  {}",
            o.paths, o.by_ranges, o.questions, o.name
        );
        for note in &o.notes {
            println!("      {note}");
        }
    }
    for f in &report.failures {
        println!("FAILURE {f}");
    }
    println!(
        "{}: {} properties, {} questions: {} obligations proven, {} controls, {} counterexamples replayed, {} failures, solver seconds {:?}, wall {:.1} s",
        solvers.join(" and "),
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

fn solve_all(python: PathBuf, filter: &str) -> ExitCode {
    let mut good = true;
    for solvers in [&["z3", "cvc5"][..], &["bitwuzla"][..]] {
        let mut properties = catalogue::all();
        properties.retain(|p| p.name.contains(filter));
        if solvers == ["bitwuzla"] {
            // With true products some questions take minutes; these take seconds.
            let quick = [
                "pi_exact",
                "pid_exact 8/16 SP 4 K 3 whole",
                "absorb_exact",
                "set_point_weighted",
                "no_dead_zone",
                "shape ",
            ];
            let small = |name: &str| name.contains(" 8/16 SP 4 ") && name.ends_with(" Direct");
            properties.retain(|p| small(&p.name) && quick.iter().any(|q| p.name.starts_with(q)));
        }
        if properties.is_empty() {
            continue;
        }
        let start = Instant::now();
        let report = match solve::run(
            &properties,
            &python,
            solvers,
            60,
            &|n| eprintln!("{n} answers to come"),
            &|| {},
        ) {
            Ok(report) => report,
            Err(error) => {
                eprintln!("prove: {error}");
                return ExitCode::from(2);
            }
        };
        print(&report, solvers, start);
        if report.obligations == 0 {
            eprintln!("prove: no question was asked");
            return ExitCode::from(2);
        }
        good &= report.failures.is_empty();
    }
    if good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
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
