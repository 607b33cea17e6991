//! The program `hushloop`: see the library's `cli` module for the commands.

use std::process::ExitCode;

fn main() -> ExitCode {
    host_harness::cli::main()
}
