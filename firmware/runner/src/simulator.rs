//! Runs an image to its end under its simulator, bounded in time.

use crate::image;
use crate::target::Target;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

/// Longest run of one image.
const LIMIT: Duration = Duration::from_secs(120);

/// A whole machine of the emulator with its serial port on standard input and output, at full speed.
pub fn machine(target: Target, image: &Path) -> Command {
    let mut command = if target == Target::Thumbv6m {
        let mut command = Command::new("qemu-system-arm");
        command.args([
            "-M",
            "microbit",
            "-semihosting-config",
            "enable=on,target=native",
        ]);
        command
    } else {
        let mut command = Command::new("qemu-system-riscv32");
        command.args(["-M", "virt", "-bios", "none"]);
        command
    };
    command
        .args(["-display", "none", "-monitor", "none", "-serial", "stdio"])
        .arg("-kernel")
        .arg(image);
    command
}

/// The command that runs `image` to its end and counts.
fn command(target: Target, image: &Path) -> Result<Command, String> {
    Ok(match target {
        Target::Thumbv6m | Target::Riscv32 => {
            let mut command = machine(target, image);
            command.args([
                "-icount",
                if target == Target::Thumbv6m {
                    "shift=10"
                } else {
                    "shift=0"
                },
            ]);
            command
        }
        Target::Avr => {
            let mut command = Command::new("simavr");
            command
                .args(["-m", "atmega1284p", "-f", "16000000"])
                .arg(image);
            command
        }
        Target::Msp430 => {
            let end = image::address(image, "finished")?;
            let mut command = Command::new("mspdebug");
            command.args([
                "-q",
                "sim",
                "simio add timer ta 3",
                "simio config ta base 0x160",
                "simio add console con",
            ]);
            command.arg(format!("prog {}", image.display()));
            command.args(["reset", &format!("setbreak {end:#x}"), "run"]);
            command
        }
    })
}

/// What the image said on its console, without the simulator's colours.
pub fn run(target: Target, image: &Path) -> Result<String, String> {
    let mut command = command(target, image)?;
    command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command
        .spawn()
        .map_err(|error| format!("{}: {error}", command.get_program().to_string_lossy()))?;
    let (sender, receiver) = mpsc::channel();
    let pipes: [Box<dyn Read + Send>; 2] = [
        Box::new(child.stdout.take().expect("piped")),
        Box::new(child.stderr.take().expect("piped")),
    ];
    for mut pipe in pipes {
        let sender = sender.clone();
        std::thread::spawn(move || {
            let mut bytes = Vec::new();
            let _ = pipe.read_to_end(&mut bytes);
            let _ = sender.send(bytes);
        });
    }
    let deadline = Instant::now() + LIMIT;
    let status = loop {
        match child.try_wait().map_err(|error| error.to_string())? {
            Some(status) => break Some(status),
            None if Instant::now() > deadline => {
                let _ = child.kill();
                let _ = child.wait();
                break None;
            }
            None => std::thread::sleep(Duration::from_millis(5)),
        }
    };
    let mut text = String::new();
    for _ in 0..2 {
        let bytes = receiver
            .recv_timeout(Duration::from_secs(5))
            .unwrap_or_default();
        text.push_str(&String::from_utf8_lossy(&bytes));
        text.push('\n');
    }
    let text = plain(&text);
    match status {
        None => Err(format!(
            "did not end within {} s; last line: {}",
            LIMIT.as_secs(),
            text.lines().last().unwrap_or("")
        )),
        Some(_) if text.contains("PANIC") => Err("panicked".to_owned()),
        Some(_) => Ok(text),
    }
}

/// Takes out terminal colours and the dots one simulator prints for line ends.
fn plain(text: &str) -> String {
    let mut plain = String::new();
    let mut characters = text.chars();
    while let Some(character) = characters.next() {
        if character == '\u{1b}' {
            for skipped in characters.by_ref() {
                if skipped.is_ascii_alphabetic() {
                    break;
                }
            }
        } else {
            plain.push(character);
        }
    }
    plain
        .lines()
        .map(|line| line.trim_end_matches(['.', '\r', ' ']))
        .collect::<Vec<_>>()
        .join("\n")
}
