//! Why a job could not be done, whoever asked for it.

use std::fmt;
use std::io;
use std::path::PathBuf;

use crate::design::DesignError;

/// Why a job could not be done. The program ends with exit status 2 for all of these.
#[derive(Debug)]
pub enum Failure {
    /// The design file is wrong.
    Design(DesignError),
    /// What was asked for cannot be: says what would be accepted.
    Refused(String),
    /// A file could not be read or written.
    File(PathBuf, io::Error),
}

impl Failure {
    /// The text for people, no line longer than `width` where words allow it.
    #[must_use]
    pub fn to_text(&self, width: usize) -> String {
        match self {
            Failure::Design(error) => error.to_text(width),
            other => textwrap::fill(&other.to_string(), unbroken(width).subsequent_indent("  ")),
        }
    }
}

/// Wrapping that leaves words whole: a path that is broken cannot be copied.
fn unbroken<'a>(width: usize) -> textwrap::Options<'a> {
    textwrap::Options::new(width)
        .break_words(false)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Design(error) => error.fmt(f),
            Failure::Refused(why) => write!(f, "error: {why}"),
            Failure::File(path, error) => write!(f, "error: {}: {error}", path.display()),
        }
    }
}

impl std::error::Error for Failure {}

impl From<DesignError> for Failure {
    fn from(error: DesignError) -> Self {
        Failure::Design(error)
    }
}
