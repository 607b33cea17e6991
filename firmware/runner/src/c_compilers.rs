//! C for the targets that have a C compiler packaged: the float baseline, and the linker's search path for the C
//! libraries, which must come before Rust's own helpers to be a fair link.

use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What the compilers left.
pub struct Objects {
    /// A directory a target below it, with `libhush_c.a` and the file `search`.
    pub directory: PathBuf,
}

/// Compiler, its options and its archiver.
fn compiler(target: Target) -> Option<(&'static str, &'static [&'static str], &'static str)> {
    match target {
        Target::Avr => Some(("avr-gcc", &["-mmcu=atmega328p"], "avr-ar")),
        Target::Thumbv6m => Some((
            "arm-none-eabi-gcc",
            &["-mcpu=cortex-m0", "-mthumb"],
            "arm-none-eabi-ar",
        )),
        Target::Msp430 | Target::Riscv32 => None,
    }
}

/// Whether a C compiler is packaged for the target.
pub fn is_packaged(target: Target) -> bool {
    compiler(target).is_some()
}

/// Runs a compiler or what it made; its output, or the first lines of what it complains of.
pub fn run(command: &mut Command) -> Result<String, String> {
    let output = command
        .output()
        .map_err(|error| format!("{}: {error}", command.get_program().to_string_lossy()))?;
    if output.status.success() {
        return Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned());
    }
    Err(String::from_utf8_lossy(&output.stderr)
        .lines()
        .take(5)
        .collect::<Vec<_>>()
        .join(" | "))
}

fn archive(
    tree: &Tree,
    directory: &Path,
    sources: &[PathBuf],
    target: Target,
) -> Result<String, String> {
    let (gcc, options, ar) = compiler(target).ok_or("no C compiler is packaged for this target")?;
    std::fs::create_dir_all(directory).map_err(|error| error.to_string())?;
    let library = directory.join("libhush_c.a");
    let _ = std::fs::remove_file(&library);
    let mut members = Vec::new();
    for source in sources {
        let member = directory
            .join(source.file_stem().expect("a source has a name"))
            .with_extension("o");
        let mut command = Command::new(gcc);
        if target == Target::Avr {
            // Tables stay in flash, which is another address space there.
            command
                .arg("-include")
                .arg(tree.firmware.join("figures/c/avr_flash.h"));
        }
        run(command
            .args(options)
            .args([
                "-std=c99",
                "-Os",
                "-ffunction-sections",
                "-Wall",
                "-Wextra",
                "-Werror",
                "-c",
            ])
            .arg(source)
            .arg("-o")
            .arg(&member))?;
        members.push(member);
    }
    run(Command::new(ar).arg("rcs").arg(&library).args(&members))?;
    // libgcc is asked for by its own name: `-print-file-name` knows where it is for these options.
    let mut search = String::new();
    for name in ["libm.a", "libgcc.a"] {
        let path = PathBuf::from(run(Command::new(gcc)
            .args(options)
            .arg(format!("-print-file-name={name}")))?);
        let place = path
            .parent()
            .filter(|place| place.is_absolute())
            .ok_or(format!("{gcc} has no {name}"))?;
        search.push_str(&format!("{}\n", place.display()));
    }
    std::fs::write(directory.join("search"), search).map_err(|error| error.to_string())?;
    Ok(format!("{} files", members.len()))
}

/// Compiles `sources` into a program of its own, the last of them a trial, which prints through `runner/c/`.
pub fn program(
    tree: &Tree,
    target: Target,
    sources: &[PathBuf],
    program: &Path,
) -> Result<(), String> {
    let (gcc, options, _) = compiler(target).ok_or("no C compiler is packaged for this target")?;
    let (shim, options): (_, &[&str]) = match target {
        // The larger sister, for the scenario's RAM.
        Target::Avr => ("runner/c/avr.h", &["-mmcu=atmega1284p"]),
        _ => ("runner/c/arm.h", options),
    };
    let mut objects = Vec::new();
    for (index, source) in sources.iter().enumerate() {
        let object = program.with_extension(format!("{index}.o"));
        let mut command = Command::new(gcc);
        if index + 1 == sources.len() {
            command.arg("-DTRIAL");
        }
        run(command
            .args(options)
            .args(["-std=gnu99", "-Os", "-Wall", "-Wextra", "-Werror", "-c"])
            .arg("-include")
            .arg(tree.firmware.join(shim))
            .arg(source)
            .arg("-o")
            .arg(&object))?;
        objects.push(object);
    }
    let mut link = Command::new(gcc);
    if target != Target::Avr {
        link.args(["-nostartfiles", "-nodefaultlibs", "-T"])
            .arg(tree.firmware.join("board/link/thumbv6m.x"));
    }
    run(link
        .args(options)
        .args(&objects)
        .arg("-o")
        .arg(program)
        .arg("-lgcc"))?;
    Ok(())
}

/// Compiles for every target that has a compiler.
pub fn compile(tree: &Tree, targets: &[Target], pairs: &[PathBuf], report: &mut Report) -> Objects {
    let directory = tree.output().join("c");
    let _ = std::fs::remove_dir_all(&directory);
    let mut sources = vec![tree.firmware.join("figures/c/float.c")];
    sources.extend_from_slice(pairs);
    for target in targets.iter().filter(|target| compiler(**target).is_some()) {
        let result = archive(tree, &directory.join(target.triple()), &sources, *target);
        report.check(&format!("C for {}", target.triple()), result);
    }
    Objects { directory }
}
