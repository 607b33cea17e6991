//! What fits: flash, static RAM and worst-case stack of the whole application, and the code of law and lookup alone.

use crate::figures::{Figure, Run, symbol};
use crate::image::{self, Code};
use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use crate::{cargo, closed_loop};

/// Flash of the whole station image on the two small targets, bytes.
const FLASH: u64 = 4096;
/// RAM of it, static variables and stack together.
const RAM: u64 = 200;
/// What `board::paint_stack` leaves unpainted below the application's frame: always found used, also where no call goes
/// that deep.
const UNPAINTED: u32 = 16;
/// Code of a law and the uniform lookup with every helper.
const LAW_AND_LOOKUP: u64 = 700;
/// The row of the committed table that holds flash, and static RAM with stack.
const SUBJECT: &str = "image/application";

fn is_small(target: Target) -> bool {
    matches!(target, Target::Msp430 | Target::Avr)
}

fn within(what: &str, used: u64, budget: Option<u64>) -> Result<String, String> {
    match budget {
        Some(budget) if used > budget => Err(format!("{what}: {used} bytes, {budget} allowed")),
        Some(budget) => Ok(format!("{used} bytes of {budget}")),
        None => Ok(format!("{used} bytes")),
    }
}

/// Measures, checks and enters the image into the run's figures.
pub fn check(tree: &Tree, runs: &mut [Run], report: &mut Report) {
    // The shipped image is measured before the painted one takes its place.
    let shipped: Vec<_> = runs
        .iter()
        .map(|run| {
            let path = cargo::image(tree, run.target, "release", "application");
            image::sizes(&path)
                .and_then(|sizes| Ok((sizes, Code::read(run.target, &path)?.stack("application")?)))
        })
        .collect();
    let targets: Vec<Target> = runs.iter().map(|run| run.target).collect();
    let painted = closed_loop::painted_stacks(tree, &targets);
    for ((run, shipped), painted) in runs.iter_mut().zip(shipped).zip(painted) {
        let name = run.target.triple();
        let budget = |bytes| is_small(run.target).then_some(bytes);
        let (sizes, by_frames) = match shipped {
            Ok(shipped) => shipped,
            Err(reason) => {
                report.fail(&format!("{name} application: {reason}"));
                continue;
            }
        };
        report.check(
            &format!("{name} application, flash"),
            within("flash", sizes.flash, budget(FLASH)),
        );
        report.check(
            &format!("{name} application, RAM by frame sizes"),
            within("RAM", sizes.ram + u64::from(by_frames), budget(RAM)),
        );
        match painted {
            Err(reason) => report.fail(&format!("{name} application, stack: {reason}")),
            Ok(stack) => {
                let ram = sizes.ram + u64::from(stack);
                let detail = within("RAM", ram, budget(RAM)).map(|text| {
                    format!(
                        "{text}: {} static, {stack} stack by painting, {by_frames} by frame sizes",
                        sizes.ram
                    )
                });
                // What happened cannot be deeper than what can.
                let detail = if stack > by_frames + UNPAINTED {
                    Err(format!(
                        "{stack} bytes of stack by painting, {by_frames} by frame sizes"
                    ))
                } else {
                    detail
                };
                report.check(&format!("{name} application, RAM"), detail);
                let figure = Figure {
                    mean: 0.0,
                    worst: 0.0,
                    flash: sizes.flash,
                    stack: ram as u32,
                };
                run.figures.insert(SUBJECT.to_owned(), figure);
            }
        }
        match Code::read(
            run.target,
            &cargo::image(tree, run.target, "release", "figures"),
        ) {
            Err(reason) => report.fail(&format!("{name} law and lookup: {reason}")),
            Ok(code) => {
                // With gains that can change at run time the PID law is over the budget on the 16-bit target: printed only.
                for (law, limited) in [
                    ("law/pi", true),
                    ("law/pi-constant", true),
                    ("law/pid", false),
                    ("law/pid-constant", true),
                ] {
                    let used = code.bytes(&[&symbol(law), &symbol("lookup/uniform")]);
                    let result = within("code", used, budget(LAW_AND_LOOKUP).filter(|_| limited));
                    report.check(
                        &format!("{name} {law} and uniform lookup, every helper"),
                        result,
                    );
                }
            }
        }
    }
}
