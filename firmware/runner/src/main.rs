//! Builds the target images, runs them under simulators, compares bits and figures, and says what passed.
//!
//! `.ci/on-target [--write] [TARGET...]`: targets by the beginning of their names (`msp430`, `avr`, `thumbv6m`, `riscv32imc`),
//! all four without. `--write` renews `benches/targets.csv` instead of comparing with it.

mod c_compilers;
mod cargo;
mod figures;
mod image;
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
        match Target::ALL.into_iter().find(|target| target.triple().starts_with(&argument)) {
            Some(target) => wanted.push(target),
            None => {
                eprintln!("unknown argument {argument}; accepted: --write, msp430, avr, thumbv6m, riscv32imc");
                return ExitCode::from(2);
            }
        }
    }
    let targets = if wanted.is_empty() { Target::ALL.to_vec() } else { wanted };
    let tree = tree::Tree::here();
    let mut report = Report::default();

    report.stage("C compilers");
    let c = c_compilers::compile(&tree, &targets, &mut report);

    report.stage("images");
    cargo::build_images(&tree, &targets, &c, &mut report);

    report.stage("figures");
    let runs = figures::run(&tree, &targets, &mut report);

    report.stage("traces, bit for bit with the host");
    traces::compare(&runs, &mut report);

    report.stage("committed figures");
    table::check(&tree, &runs, write, &mut report);

    report.stage("panic check");
    panics::check(&tree, &targets, &mut report);

    report.close()
}
