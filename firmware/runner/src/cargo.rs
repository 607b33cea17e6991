//! Builds images with the system's toolchain, `core` from its source.

use crate::c_compilers::Objects;
use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Images of the release profile.
pub const IMAGES: [&str; 2] = ["figures", "application"];

/// A cargo command for the images.
pub fn command(tree: &Tree, profile: &str, targets: &[Target]) -> Command {
    let mut command = Command::new("cargo");
    command.current_dir(&tree.firmware).args([
        "build",
        "--quiet",
        "--profile",
        profile,
        "-j2",
        "-Zbuild-std=core",
    ]);
    command.env("RUSTC_BOOTSTRAP", "1").stdin(Stdio::null());
    command
        .env_remove("RUSTFLAGS")
        .env_remove("CARGO_TARGET_DIR")
        .env_remove("CARGO_BUILD_TARGET");
    // Set when this program itself was started by `cargo run`; they would choose another compiler.
    command
        .env_remove("RUSTC")
        .env_remove("RUSTUP_TOOLCHAIN")
        .env_remove("CARGO");
    for target in targets {
        command.args(["--target", target.triple()]);
    }
    command
}

/// Where an image is.
pub fn image(tree: &Tree, target: Target, profile: &str, name: &str) -> PathBuf {
    let file = if target == Target::Avr {
        format!("{name}.elf")
    } else {
        name.to_owned()
    };
    tree.output().join(target.triple()).join(profile).join(file)
}

/// Builds every image for every target in one command; an image that is missing afterwards has failed.
pub fn build_images(tree: &Tree, targets: &[Target], c: &Objects, report: &mut Report) {
    for target in targets {
        for name in IMAGES {
            // A stale image must not stand in for one that no longer builds.
            let _ = std::fs::remove_file(image(tree, *target, "release", name));
        }
    }
    let mut command = command(tree, "release", targets);
    for name in IMAGES {
        command.args(["-p", name]);
    }
    command.arg("--keep-going").env("HUSH_C", &c.directory);
    let output = command.output();
    let errors = match &output {
        Ok(output) => String::from_utf8_lossy(&output.stderr).into_owned(),
        Err(error) => error.to_string(),
    };
    for target in targets {
        for name in IMAGES {
            let path = image(tree, *target, "release", name);
            let result = if path.exists() {
                std::fs::metadata(&path)
                    .map(|_| String::new())
                    .map_err(|error| error.to_string())
            } else {
                Err(errors
                    .lines()
                    .filter(|line| line.contains("error"))
                    .take(5)
                    .collect::<Vec<_>>()
                    .join(" | "))
            };
            report.check(&format!("{name} for {}", target.triple()), result);
        }
    }
}
