//! Builds the target images, runs them under simulators, compares bits and figures, and says what passed.
//!
//! `.ci/on-target [--write] [TARGET...]`: targets by the beginning of their names (`msp430`, `avr`, `thumbv6m`, `riscv32imc`),
//! all four without. `--write` renews `benches/targets.csv` instead of comparing with it.

mod budget;
mod c_compilers;
mod c_pairs;
mod cargo;
mod closed_loop;
mod figures;
mod frames;
mod image;
mod limits;
mod link;
mod panics;
mod report;
mod simulator;
mod table;
mod target;
mod traces;
mod tree;

use report::Report;
use std::process::ExitCode;
use target::Target;

fn main() -> ExitCode {
    let mut write = false;
    let mut wanted = Vec::new();
    for argument in std::env::args().skip(1) {
        if argument == "--write" {
            write = true;
            continue;
        }
        match Target::ALL
            .into_iter()
            .find(|target| target.triple().starts_with(&argument))
        {
            Some(target) => wanted.push(target),
            None => {
                eprintln!(
                    "unknown argument {argument}; accepted: --write, msp430, avr, thumbv6m, riscv32imc"
                );
                return ExitCode::from(2);
            }
        }
    }
    let targets = if wanted.is_empty() {
        Target::ALL.to_vec()
    } else {
        wanted
    };
    let tree = tree::Tree::here();
    let mut report = Report::default();

    report.stage("C file pairs on the host, bit for bit with Rust");
    let pairs = c_pairs::write(&tree).unwrap_or_else(|reason| {
        report.fail(&format!("writing the C pairs: {reason}"));
        Vec::new()
    });
    c_pairs::check(&pairs, &mut report);

    if targets
        .iter()
        .any(|target| c_compilers::is_packaged(*target))
    {
        report.stage("C on the targets, bit for bit with Rust");
    }
    let c = c_compilers::compile(&tree, &targets, &c_pairs::cases_of(&pairs), &mut report);
    c_pairs::check_on_targets(&tree, &targets, &pairs, &mut report);

    report.stage("images");
    cargo::build_images(&tree, &targets, &c, &mut report);

    report.stage("figures");
    let mut runs = figures::run(&tree, &targets, &mut report);

    report.stage("traces, bit for bit with the host");
    traces::compare(&runs, &mut report);

    report.stage("closed loop, bit for bit with the host");
    closed_loop::check(&tree, &targets, &mut report);

    report.stage("budgets");
    budget::check(&tree, &mut runs, &mut report);

    report.stage("limits, float and the floor");
    limits::check(&runs, &mut report);

    report.stage("committed figures");
    table::check(&tree, &runs, write, &mut report);

    report.stage("panic check");
    panics::check(&tree, &targets, &mut report);

    report.close()
}
