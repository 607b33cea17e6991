//! What goes to a solver and comes back: JSON lines to a process of its own.
//!
//! A solver gets the questions in an order and under numbers of its own, with *decoys* among them whose answers are
//! known: whoever answers without asking (says one thing to everything, or repeats what another solver said) fails on
//! numbers or decoys.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::hash::{BuildHasher, RandomState};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// A solver: the command that answers as `solvers/solve.py` does. The limit in seconds is added as its last argument.
#[derive(Clone, Debug)]
pub struct Solver {
    /// Its name in reports.
    pub name: String,
    /// Program and arguments.
    pub command: Vec<String>,
}

impl Solver {
    /// A solver's package of this Python interpreter.
    #[must_use]
    pub fn of_python(python: &Path, name: &str) -> Self {
        let text = |path: &Path| path.to_string_lossy().into_owned();
        Self {
            name: name.to_string(),
            command: vec![text(python), text(&script()), name.to_string()],
        }
    }
}

/// Where the solvers' script lies, from the place where the program was built.
#[must_use]
pub fn script() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("solvers/solve.py")
}

#[derive(Serialize)]
struct Line<'a> {
    id: u64,
    text: &'a str,
}

/// An answer, as a solver's script gives it.
#[derive(Clone, Debug, Deserialize)]
pub struct Answer {
    /// Of the question.
    pub id: u64,
    /// `sat`, `unsat` or `unknown`.
    pub verdict: String,
    /// Values of the unknowns when `sat`.
    pub model: BTreeMap<String, String>,
    /// Time taken.
    pub seconds: f64,
    /// The solver's version, as it says itself.
    #[serde(default)]
    pub version: String,
}

/// All answers of one solver, in the order of the questions.
#[derive(Debug)]
pub struct Replies {
    /// One a question.
    pub answers: Vec<Answer>,
    /// The solver's version.
    pub version: String,
}

/// A solver could not be run, or is not to be believed.
#[derive(Debug)]
pub struct NoSolver(pub String);

impl std::fmt::Display for NoSolver {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "no solver: {}", self.0)
    }
}

impl std::error::Error for NoSolver {}

/// Decoys a solver gets: who guesses all of their answers is right once in 2^24 runs.
const DECOYS: u64 = 24;

/// Numbers that no other run has.
struct Numbers {
    seed: RandomState,
    at: u64,
}

impl Numbers {
    fn next(&mut self) -> u64 {
        self.at += 1;
        // Exact in a JSON number of any reader.
        self.seed.hash_one(self.at) >> 12
    }
}

/// Seven times a number is this one, or is it not?
fn decoy(numbers: &mut Numbers) -> (String, &'static str) {
    let sat = numbers.next() & 1 == 0;
    let multiple = 7 * (numbers.next() % 1_000_000) + u64::from(!sat) * (1 + numbers.next() % 6);
    let text = format!(
        "(set-logic QF_LIA)\n(declare-const x Int)\n(assert (and (<= 0 x) (<= x 1000000)))\n\
         (assert (= (* 7 x) {multiple}))\n"
    );
    (text, if sat { "sat" } else { "unsat" })
}

/// Ends the solver whatever happens.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Runs one solver over all questions.
///
/// # Errors
/// When it cannot be run, ends early, takes longer than one and a half times the limit, or answers what it was not
/// asked.
pub fn ask(
    solver: &Solver,
    limit_s: u32,
    texts: &[&str],
    tick: &(dyn Fn() + Sync),
) -> Result<Replies, NoSolver> {
    let fail = |what: String| NoSolver(format!("{}: {what}", solver.command.join(" ")));
    let Some((program, arguments)) = solver.command.split_first() else {
        return Err(fail("no command".to_string()));
    };
    let mut numbers = Numbers {
        seed: RandomState::new(),
        at: 0,
    };
    let decoys: Vec<(String, &str)> = (0..DECOYS).map(|_| decoy(&mut numbers)).collect();
    let all = texts
        .iter()
        .copied()
        .chain(decoys.iter().map(|d| d.0.as_str()));
    // Under fresh numbers, in their order: that is, shuffled.
    let sent: BTreeMap<u64, (usize, &str)> = all
        .enumerate()
        .map(|(index, text)| (numbers.next(), (index, text)))
        .collect();
    let count = texts.len() + decoys.len();
    if sent.len() != count {
        return Err(fail(
            "two questions got one number; run it again".to_string(),
        ));
    }
    let child = Command::new(program)
        .args(arguments)
        .arg(limit_s.to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|e| fail(e.to_string()))?;
    let mut child = Running(child);
    let stdin = child.0.stdin.take().ok_or_else(|| fail("no pipe".into()))?;
    let stdout = child
        .0
        .stdout
        .take()
        .ok_or_else(|| fail("no pipe".into()))?;
    let patience = Duration::from_secs(u64::from(limit_s + (limit_s / 2).max(4)));
    let (tell, told) = mpsc::channel();
    std::thread::scope(|scope| {
        let sent = &sent;
        scope.spawn(move || {
            let mut stdin = stdin;
            for (&id, &(_, text)) in sent {
                let line = serde_json::to_string(&Line { id, text }).unwrap_or_default();
                if writeln!(stdin, "{line}").is_err() {
                    return;
                }
            }
        });
        scope.spawn(move || {
            for line in BufReader::new(stdout).lines() {
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        let mut answers: Vec<Option<Answer>> = vec![None; count];
        let mut received = 0;
        let result = loop {
            let line = match told.recv_timeout(patience) {
                Ok(Ok(line)) => line,
                Ok(Err(e)) => break Err(fail(e.to_string())),
                Err(mpsc::RecvTimeoutError::Disconnected) => break Ok(()),
                Err(mpsc::RecvTimeoutError::Timeout) => {
                    let waited = patience.as_secs();
                    break Err(fail(format!("no answer for {waited} s")));
                }
            };
            let answer: Answer = match serde_json::from_str(&line) {
                Ok(answer) => answer,
                Err(e) => break Err(fail(format!("{e} in {line}"))),
            };
            let Some(&(index, _)) = sent.get(&answer.id) else {
                break Err(fail(format!(
                    "it answers number {}, which it was not asked",
                    answer.id
                )));
            };
            if answers[index].is_some() {
                break Err(fail(format!("it answers number {} twice", answer.id)));
            }
            answers[index] = Some(answer);
            received += 1;
            tick();
        };
        if result.is_err() {
            // Closes its pipes, so that both threads end.
            let _ = child.0.kill();
        }
        result?;
        let status = child.0.wait().map_err(|e| fail(e.to_string()))?;
        let answers: Vec<Answer> = answers.into_iter().flatten().collect();
        if !status.success() || received != count || answers.len() != count {
            return Err(fail(format!(
                "{status}, {received} of {count} questions answered"
            )));
        }
        for ((text, due), answer) in decoys.iter().zip(&answers[texts.len()..]) {
            if answer.verdict != *due {
                return Err(fail(format!(
                    "it is not to be believed: {} where the answer is {due}:\n{text}",
                    answer.verdict
                )));
            }
        }
        let version = answers
            .first()
            .map(|a| a.version.clone())
            .unwrap_or_default();
        let mut answers = answers;
        answers.truncate(texts.len());
        Ok(Replies { answers, version })
    })
}
