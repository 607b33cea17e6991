//! What two solvers answered, once, as text that travels with the sources.
//!
//! A line for each property: its name, how many questions it asks, how many of them are obligations that every solver
//! found unsatisfiable, and the fingerprint of the questions' text. Who has the sources can ask the same questions again
//! in milliseconds and see whether they are still the same; who changes the law, a property or the text of a question
//! gets others. The last line is the fingerprint of all lines above it: a certificate that was edited is refused.
//!
//! A certificate says what was answered, not that the solvers were right: that two of them agree, that wrong laws are
//! caught and counterexamples reproduce is what the run that wrote it had to see, and it is not written otherwise.

use super::solve::{Property, Report, questions};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// The certificate that this program was compiled with.
pub const BUILT_IN: &str = include_str!("../certificate.txt");

/// First line of every certificate.
const HEAD: &str = "hushloop proof certificate 1";

/// The fingerprint of some bytes: SHA-256 (FIPS 180-4), in hexadecimal digits.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
}

/// What is kept of one property.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Questions asked.
    pub questions: usize,
    /// Obligations that every solver found unsatisfiable, and those that ranges alone show.
    pub obligations: usize,
    /// Of the questions.
    pub fingerprint: String,
}

/// A certificate that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Certificate {
    /// The day of the run, `YYYY-MM-DD`.
    pub date: String,
    /// The solvers, with their versions.
    pub solvers: Vec<String>,
    /// Proof obligations of the whole run.
    pub obligations: usize,
    /// Controls of the whole run, each of them caught.
    pub controls: usize,
    /// By the property's name.
    pub entries: BTreeMap<String, Entry>,
}

/// Why a certificate is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Its last line is not the fingerprint of the others: it was edited, or is not whole.
    Edited,
    /// A line, counted from 1, does not say what it should.
    Line(usize),
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Edited => f.write_str(
                "the certificate was edited or is not whole: its last line is not the fingerprint of the others; \
                 accepted: one as `prove solve` writes it",
            ),
            Self::Line(line) => write!(
                f,
                "line {line} of the certificate does not say what it should; accepted: one as `prove solve` writes it"
            ),
        }
    }
}

impl std::error::Error for Refused {}

/// The certificate of a run without failures; nothing for any other.
#[must_use]
pub fn write(report: &Report, date: &str) -> Option<String> {
    let all_good = report.outcomes.iter().all(|o| o.good);
    if !report.failures.is_empty() || !all_good || report.versions.len() < 2 {
        return None;
    }
    let mut text = format!("{HEAD}\ndate {date}\n");
    for (name, version) in &report.versions {
        let _ = writeln!(text, "solver {name} {version}");
    }
    let _ = writeln!(
        text,
        "run {} properties, {} questions, {} obligations, {} controls",
        report.outcomes.len(),
        report.questions,
        report.obligations,
        report.controls
    );
    for o in &report.outcomes {
        let kind = if o.control { "caught" } else { "proven" };
        let _ = writeln!(
            text,
            "{kind} {} {} {} {}",
            o.questions,
            o.proven + o.by_ranges,
            o.fingerprint,
            o.name()
        );
    }
    let seal = sha256(text.as_bytes());
    let _ = writeln!(text, "seal {seal}");
    Some(text)
}

impl Certificate {
    /// Reads a certificate.
    ///
    /// # Errors
    /// [`Refused`] when it was edited or a line cannot be read.
    pub fn read(text: &str) -> Result<Self, Refused> {
        let text = text.replace("\r\n", "\n");
        let (body, seal) = text
            .trim_end_matches('\n')
            .rsplit_once('\n')
            .ok_or(Refused::Edited)?;
        if seal.strip_prefix("seal ") != Some(sha256(format!("{body}\n").as_bytes()).as_str()) {
            return Err(Refused::Edited);
        }
        let mut certificate = Self {
            date: String::new(),
            solvers: Vec::new(),
            obligations: 0,
            controls: 0,
            entries: BTreeMap::new(),
        };
        for (index, line) in body.lines().enumerate() {
            certificate
                .line(index, line)
                .ok_or(Refused::Line(index + 1))?;
        }
        Ok(certificate)
    }

    fn line(&mut self, index: usize, line: &str) -> Option<()> {
        if index == 0 {
            return (line == HEAD).then_some(());
        }
        let (kind, rest) = line.split_once(' ')?;
        match kind {
            "date" => self.date = rest.to_string(),
            "solver" => self.solvers.push(rest.to_string()),
            "run" => {
                let numbers: Vec<usize> = rest
                    .split(|c: char| !c.is_ascii_digit())
                    .filter_map(|n| n.parse().ok())
                    .collect();
                let [_, _, obligations, controls] = numbers[..] else {
                    return None;
                };
                (self.obligations, self.controls) = (obligations, controls);
            }
            "proven" | "caught" => {
                let mut parts = rest.splitn(4, ' ');
                let questions = parts.next()?.parse().ok()?;
                let obligations = parts.next()?.parse().ok()?;
                let fingerprint = parts.next()?.to_string();
                let entry = Entry {
                    questions,
                    obligations,
                    fingerprint,
                };
                if kind == "proven" {
                    self.entries.insert(parts.next()?.to_string(), entry);
                }
            }
            _ => return None,
        }
        Some(())
    }

    /// Are these properties proven by this certificate? Builds their questions from the sources that this program was
    /// compiled from. The number of obligations, or what is not as it was certified.
    ///
    /// # Errors
    /// The name of a property that the certificate does not have, or whose questions are others.
    pub fn covers(&self, properties: &[Property]) -> Result<usize, String> {
        let mut obligations = 0;
        if properties.is_empty() {
            return Err("nothing is asked".to_string());
        }
        for property in properties {
            let name = property.name();
            let entry = self
                .entries
                .get(&name)
                .ok_or_else(|| format!("{name} is not in the certificate"))?;
            if entry.fingerprint != questions(property).fingerprint() {
                return Err(format!("questions changed: {name}"));
            }
            obligations += entry.obligations;
        }
        Ok(obligations)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4's own example: the one-block message "abc" (NIST, Example Algorithms, SHA-256).
    #[test]
    fn the_fingerprint_is_the_standards() {
        let due = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256(b"abc"), due);
    }

    /// Every single character changed, dropped or doubled is refused.
    #[test]
    fn an_edited_certificate_is_refused() {
        let body = format!(
            "{HEAD}\ndate 2026-01-02\nsolver a 1\nsolver b 2\nrun 1 properties, 2 questions, 3 obligations, 4 controls\nproven 2 3 0f x\n"
        );
        let good = format!("{body}seal {}\n", sha256(body.as_bytes()));
        let read = Certificate::read(&good).unwrap();
        assert_eq!((read.obligations, read.controls), (3, 4));
        assert_eq!(read.entries["x"].obligations, 3);
        let mut cases = 0;
        for at in 0..good.len() - 1 {
            let (before, after) = (&good[..at], &good[at + 1..]);
            let now = good.as_bytes()[at] as char;
            let other = if now == '7' { '8' } else { '7' };
            for bad in [
                format!("{before}{other}{after}"),
                format!("{before}{after}"),
                format!("{before}{now}{now}{after}"),
            ] {
                assert!(Certificate::read(&bad).is_err(), "{at}: {bad}");
                cases += 1;
            }
        }
        assert!(cases > 500);
    }
}
