//! The panic check: with overflow checks on, the library's hot paths link when the panic handler is an unresolved
//! symbol, and the same image with one planted overflow does not.

use crate::cargo;
use crate::report::Report;
use crate::target::Target;
use crate::tree::Tree;

const PROFILE: &str = "release";
/// The packages whose arithmetic is checked: all but `core`, which is then not compiled a second time (its generic
/// functions are compiled, and checked, where they are used).
const CHECKED: [&str; 7] = [
    "controller-core",
    "sensor-math",
    "exercise",
    "board",
    "fixed",
    IMAGE,
    "application",
];
const IMAGE: &str = "panic-check";
/// What the linker must complain about, and nothing else.
const SYMBOL: &str = "a_panic_can_be_reached";

fn links(tree: &Tree, target: Target, image: &str, planted: bool) -> Result<bool, String> {
    let path = cargo::image(tree, target, PROFILE, image);
    let _ = std::fs::remove_file(&path);
    let mut command = cargo::command(tree, PROFILE, &[target]);
    command.args(["-p", image]);
    for package in CHECKED {
        command.args([
            "--config",
            &format!("profile.release.package.{package}.overflow-checks=true"),
        ]);
    }
    if planted {
        command.args(["--features", "planted"]);
    }
    let output = command.output().map_err(|error| error.to_string())?;
    if output.status.success() {
        return if path.exists() {
            Ok(true)
        } else {
            Err("cargo succeeded and left no image".to_owned())
        };
    }
    let errors = String::from_utf8_lossy(&output.stderr);
    if errors.contains(SYMBOL) {
        return Ok(false);
    }
    Err(errors
        .lines()
        .filter(|line| line.contains("error"))
        .take(5)
        .collect::<Vec<_>>()
        .join(" | "))
}

/// Both links on every target.
pub fn check(tree: &Tree, targets: &[Target], report: &mut Report) {
    for target in targets {
        for image in [IMAGE, "application"] {
            let result = links(tree, *target, image, false).and_then(|links| {
                if links {
                    Ok("links".to_owned())
                } else {
                    Err("a panic can be reached".to_owned())
                }
            });
            report.check(
                &format!("{} {image}, overflow checks on", target.triple()),
                result,
            );
        }
        let result = links(tree, *target, IMAGE, true).and_then(|links| {
            if links {
                Err("links, although it overflows".to_owned())
            } else {
                Ok("does not link".to_owned())
            }
        });
        report.check(
            &format!("{} with a planted overflow", target.triple()),
            result,
        );
    }
}
