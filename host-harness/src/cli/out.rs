//! What the program prints: a reader that has seen enough (`| head -1`) is no failure, and never a panic.

use std::io::{self, Write};
use std::path::PathBuf;

use super::Failure;

/// Prints to standard output, as it is. A closed pipe ends the printing and not the program, whose exit status still says
/// how its work ended.
///
/// # Errors
///
/// Standard output cannot be written, such as a full disk.
pub fn say(text: &str) -> Result<(), Failure> {
    written(&mut io::stdout().lock(), text)
        .map_err(|error| Failure::File(PathBuf::from("standard output"), error))
}

/// Prints a line to standard error, where nobody may be listening.
pub fn complain(text: &str) {
    let _ = written(&mut io::stderr().lock(), &format!("{text}\n"));
}

/// Writes and flushes; a reader that has gone is as good as one that has read.
fn written(to: &mut impl Write, text: &str) -> io::Result<()> {
    match to.write_all(text.as_bytes()).and_then(|()| to.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        done => done,
    }
}
