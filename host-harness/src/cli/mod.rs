//! The command line: one subcommand a file, all with the same manners.
//!
//! Aligned text for people, `--json` for machines, no colour, progress on standard error, and an exit
//! status that means something: 0 good, 1 bad (the verdict, a claim, a check), 2 wrong input.

pub mod build;
pub mod divider;
pub mod keys;
pub mod out;
pub mod place;
pub mod simulate;
pub mod table;
pub mod text;
pub mod tune;
pub mod verify;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::failure::Failure;

/// Designs, proves, simulates and documents a temperature loop in integers for a small microcontroller.
///
/// A controller is not a safety device. Fit an independent thermal cut-out; mains wiring is for licensed people under local codes.
#[derive(Parser)]
#[command(name = "hushloop", version, arg_required_else_help = true)]
struct Program {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// The main job: check, generate, simulate, verify; writes firmware module, header, report, trace and verdict
    Build(build::Args),
    /// The closed loop over the design's scenario, integers against real arithmetic
    Simulate(simulate::Args),
    /// Gains by published rules with the margins of the real loop, and our own choice, written into the design
    Tune(tune::Args),
    /// Every key a design file may hold, with unit, legal range and default
    Keys(keys::Args),
    /// Every claim about the design's law, and how it is known
    Verify(verify::Args),
    /// Sizes the resistor; resolution, self-heating and error budget across the range; checks two measured points
    Divider(divider::Args),
    /// The lookup table alone, as rust, c or csv, with its proven error
    Table(table::Args),
}

/// Parses the command line, runs the command, and turns its end into an exit status.
#[must_use]
pub fn main() -> ExitCode {
    let program = Program::parse();
    place::end_tidily_when_interrupted();
    let done = match program.command {
        Command::Build(args) => build::run(&args),
        Command::Simulate(args) => simulate::run(&args),
        Command::Tune(args) => tune::run(&args),
        Command::Keys(args) => keys::run(&args),
        Command::Verify(args) => verify::run(&args),
        Command::Divider(args) => divider::run(&args),
        Command::Table(args) => table::run(&args),
    };
    done.unwrap_or_else(|failure| {
        out::complain(&failure.to_text(text::width_of_errors()));
        ExitCode::from(2)
    })
}
