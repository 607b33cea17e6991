//! The wire between the host and a simulated chip: a message a sample each way, over a simulated serial port, or on the
//! target without one through a mailbox in its RAM and a breakpoint.

use crate::target::Target;
use crate::{image, simulator};
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// Longest wait for one answer.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running chip. Dropping it ends the simulator.
pub struct Link {
    chip: Child,
    bytes: Receiver<Vec<u8>>,
    pending: Vec<u8>,
    mailbox: Option<Mailbox>,
}

struct Mailbox {
    inbox: u64,
    outbox: u64,
}

impl Drop for Link {
    fn drop(&mut self) {
        let _ = self.chip.kill();
        let _ = self.chip.wait();
    }
}

impl Link {
    /// Starts `image`; `bridge` is the AVR simulator with its serial port on standard input and output.
    pub fn start(target: Target, image: &Path, bridge: &Path) -> Result<Self, String> {
        let mut mailbox = None;
        let mut command = match target {
            Target::Avr => {
                let mut command = Command::new(bridge);
                command.arg(image);
                command
            }
            Target::Thumbv6m | Target::Riscv32 => simulator::machine(target, image),
            Target::Msp430 => {
                mailbox = Some(Mailbox {
                    inbox: image::address(image, "INBOX")?,
                    outbox: image::address(image, "OUTBOX")?,
                });
                let mut command = Command::new("mspdebug");
                command.args(["-q", "sim"]);
                command
            }
        };
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let mut chip = command
            .spawn()
            .map_err(|error| format!("{}: {error}", command.get_program().to_string_lossy()))?;
        let mut output = chip.stdout.take().expect("piped");
        let (sender, bytes) = channel();
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(count @ 1..) = output.read(&mut buffer) {
                if sender.send(buffer[..count].to_vec()).is_err() {
                    break;
                }
            }
        });
        let mut link = Self {
            chip,
            bytes,
            pending: Vec::new(),
            mailbox,
        };
        if link.mailbox.is_some() {
            let stop = image::address(image, "mailbox")?;
            link.send(format!("prog {}\nreset\nsetbreak {stop:#x}\n", image.display()).as_bytes())?;
        }
        Ok(link)
    }

    fn send(&mut self, bytes: &[u8]) -> Result<(), String> {
        let pipe = self.chip.stdin.as_mut().expect("piped");
        pipe.write_all(bytes)
            .and_then(|()| pipe.flush())
            .map_err(|error| format!("the chip does not listen: {error}"))
    }

    fn more(&mut self) -> Result<(), String> {
        let bytes = self.bytes.recv_timeout(PATIENCE).map_err(|_| {
            let said = String::from_utf8_lossy(&self.pending).into_owned();
            format!(
                "the chip says nothing; before that: {:?}",
                said.chars()
                    .rev()
                    .take(200)
                    .collect::<String>()
                    .chars()
                    .rev()
                    .collect::<String>()
            )
        })?;
        self.pending.extend_from_slice(&bytes);
        Ok(())
    }

    /// Waits for the chip's next message.
    pub fn receive<const N: usize>(&mut self) -> Result<[u8; N], String> {
        let Some(mailbox) = &self.mailbox else {
            while self.pending.len() < N {
                self.more()?;
            }
            let message: Vec<u8> = self.pending.drain(..N).collect();
            return Ok(message.try_into().expect("N bytes"));
        };
        // Run to the breakpoint, then show the outbox: `    00200: 12 34 ...`.
        let tag = format!("{:05x}:", mailbox.outbox);
        let show = format!("run\nmd {:#x} {N}\n", mailbox.outbox);
        self.send(show.as_bytes())?;
        let mut bytes = Vec::new();
        // Sixteen bytes a line; the first line has them all.
        assert!(N <= 16, "one line of the debugger");
        loop {
            let text = String::from_utf8_lossy(&self.pending).into_owned();
            if let Some(at) = text.find(&tag)
                && let Some(length) = text[at..].find('\n')
            {
                let line = plain(&text[at + tag.len()..at + length]);
                bytes.extend(
                    line.split_whitespace()
                        .map_while(|field| u8::from_str_radix(field, 16).ok())
                        .take(N),
                );
                self.pending.drain(..at + length);
                break;
            }
            self.more()?;
        }
        bytes
            .try_into()
            .map_err(|bytes: Vec<u8>| format!("the debugger showed {} bytes of {N}", bytes.len()))
    }

    /// Gives the chip its next message.
    pub fn give(&mut self, message: &[u8]) -> Result<(), String> {
        match &self.mailbox {
            None => self.send(message),
            Some(mailbox) => {
                let mut text = format!("mw {:#x}", mailbox.inbox);
                for byte in message {
                    text.push_str(&format!(" {byte:#x}"));
                }
                text.push('\n');
                self.send(text.as_bytes())
            }
        }
    }
}

/// Without terminal colours.
fn plain(text: &str) -> String {
    let mut plain = String::new();
    let mut characters = text.chars();
    while let Some(character) = characters.next() {
        if character == '\u{1b}' {
            characters.by_ref().find(char::is_ascii_alphabetic);
        } else {
            plain.push(character);
        }
    }
    plain
}
