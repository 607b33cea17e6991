//! Asks solvers, and holds them against each other and against the integers.

use super::expression::{Truth, arena, reset};
use super::fork::explore;
use super::smt::{counterexample_query, product_facts, vacuity_query};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What a question should come back as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expect {
    /// The property holds: no counterexample exists.
    Holds,
    /// Wrong on purpose: some counterexample exists, and reproduces on integers.
    Fails,
}

/// A property at one width, scale, comparison and action.
pub struct Property {
    /// For the table: the property and its parameters.
    pub name: String,
    /// The claim it belongs to.
    pub claim: &'static str,
    /// What should come back.
    pub expect: Expect,
    /// Gains to fix when a counterexample is wanted, so that products are linear.
    pub fixed: BTreeMap<String, i128>,
    /// The statement on symbols.
    pub symbolic: Box<dyn Fn()>,
    /// The statement on the machine's integers, for replays.
    pub concrete: Option<Box<dyn Fn()>>,
}

/// A question, as sent to a solver.
#[derive(Serialize)]
struct Question<'a> {
    id: usize,
    text: &'a str,
}

/// An answer, as a solver's script gives it.
#[derive(Clone, Debug, Deserialize)]
pub struct Answer {
    /// Of the question.
    pub id: usize,
    /// `sat`, `unsat` or `unknown`.
    pub verdict: String,
    /// Values of the unknowns when `sat`.
    pub model: BTreeMap<String, String>,
    /// Time taken.
    pub seconds: f64,
}

/// Why a question is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Purpose {
    /// Must be unsatisfiable.
    Proof,
    /// Some of the property's must be satisfiable: its assumptions can hold together.
    Vacuity,
    /// Some of the property's must be satisfiable and reproduce.
    Control,
    /// A fact about products: unsatisfiable, in nonlinear arithmetic.
    Fact,
    /// Must be satisfiable, in nonlinear arithmetic.
    FactControl,
}

struct Asked {
    property: usize,
    purpose: Purpose,
    what: String,
    text: String,
}

/// What became of one property.
#[derive(Clone, Debug, Serialize)]
pub struct Outcome {
    /// The property and its parameters.
    pub name: String,
    /// The claim it belongs to.
    pub claim: &'static str,
    /// Paths through the source.
    pub paths: usize,
    /// Obligations shown by ranges alone.
    pub by_ranges: usize,
    /// Questions asked.
    pub questions: usize,
    /// Did it come back as expected, from every solver?
    pub good: bool,
    /// What was wrong, or the counterexample that a control gave.
    pub notes: Vec<String>,
}

/// What a whole run gave.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Report {
    /// By property.
    pub outcomes: Vec<Outcome>,
    /// Questions each solver answered.
    pub questions: usize,
    /// Proof obligations among them, each unsatisfiable by every solver when all is good.
    pub obligations: usize,
    /// Controls that must be satisfiable (wrong orders, and vacuity checks).
    pub controls: usize,
    /// Counterexamples reproduced on integers.
    pub replayed: usize,
    /// Time each solver took, in seconds.
    pub seconds: BTreeMap<String, f64>,
    /// Everything that was not as expected.
    pub failures: Vec<String>,
}

/// A solver could not be run.
#[derive(Debug)]
pub struct NoSolver(pub String);

impl std::fmt::Display for NoSolver {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "no solver: {}", self.0)
    }
}

impl std::error::Error for NoSolver {}

/// Where the solvers' script lies, from the place where the program was built.
#[must_use]
pub fn script() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("solvers/solve.py")
}

fn put_questions(properties: &[Property], outcomes: &mut Vec<Outcome>) -> Vec<Asked> {
    let mut asked = Vec::new();
    for (index, property) in properties.iter().enumerate() {
        let mut seen = BTreeSet::new();
        let (mut by_ranges, mut questions) = (0, 0);
        let fixed = match property.expect {
            Expect::Holds => BTreeMap::new(),
            Expect::Fails => property.fixed.clone(),
        };
        let paths = explore(|| {
            reset(None, fixed.clone());
            (property.symbolic)();
            // Claims that share their assumptions go into one question.
            let mut groups: BTreeMap<(bool, usize), Vec<usize>> = BTreeMap::new();
            arena(|a| {
                for (i, o) in a.obligations.iter().enumerate() {
                    if o.claim == Truth::Known(true) {
                        by_ranges += 1;
                    } else {
                        groups
                            .entry((o.operation, o.assumptions))
                            .or_default()
                            .push(i);
                    }
                }
            });
            for group in groups.values() {
                let Some(query) = counterexample_query(group) else {
                    by_ranges += group.len();
                    continue;
                };
                if seen.insert(query.text.clone()) {
                    let what = arena(|a| {
                        group
                            .iter()
                            .map(|&i| a.obligations[i].what.clone())
                            .collect::<Vec<_>>()
                            .join("; ")
                    });
                    let purpose = if property.expect == Expect::Holds {
                        Purpose::Proof
                    } else {
                        Purpose::Control
                    };
                    asked.push(Asked {
                        property: index,
                        purpose,
                        what,
                        text: query.text,
                    });
                    questions += 1;
                }
            }
        });
        if property.expect == Expect::Holds && !property.fixed.is_empty() {
            // With fixed gains, so that the question is linear; one path that can be taken is enough.
            explore(|| {
                reset(None, property.fixed.clone());
                (property.symbolic)();
                if let Some(query) = vacuity_query() {
                    let what = "the assumptions can hold together".to_string();
                    asked.push(Asked {
                        property: index,
                        purpose: Purpose::Vacuity,
                        what,
                        text: query.text,
                    });
                    questions += 1;
                }
            });
        }
        outcomes.push(Outcome {
            name: property.name.clone(),
            claim: property.claim,
            paths,
            by_ranges,
            questions,
            good: true,
            notes: Vec::new(),
        });
    }
    asked
}

/// Runs one solver over all questions.
fn ask(
    python: &Path,
    solver: &str,
    limit_s: u32,
    asked: &[Asked],
    tick: &(dyn Fn() + Sync),
) -> Result<Vec<Answer>, NoSolver> {
    let fail = |what: String| NoSolver(format!("{solver} with {}: {what}", python.display()));
    let mut child = Command::new(python)
        .arg(script())
        .arg(solver)
        .arg(limit_s.to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|e| fail(e.to_string()))?;
    let mut stdin = child.stdin.take().ok_or_else(|| fail("no pipe".into()))?;
    let stdout = child.stdout.take().ok_or_else(|| fail("no pipe".into()))?;
    std::thread::scope(|scope| {
        scope.spawn(move || {
            for (id, a) in asked.iter().enumerate() {
                let line =
                    serde_json::to_string(&Question { id, text: &a.text }).unwrap_or_default();
                if writeln!(stdin, "{line}").is_err() {
                    return;
                }
            }
        });
        let mut answers = Vec::with_capacity(asked.len());
        for line in BufReader::new(stdout).lines() {
            let line = line.map_err(|e| fail(e.to_string()))?;
            let answer: Answer =
                serde_json::from_str(&line).map_err(|e| fail(format!("{e} in {line}")))?;
            answers.push(answer);
            tick();
        }
        let status = child.wait().map_err(|e| fail(e.to_string()))?;
        if !status.success() || answers.len() != asked.len() {
            return Err(fail(format!(
                "{status}, {} of {} questions answered",
                answers.len(),
                asked.len()
            )));
        }
        Ok(answers)
    })
}

/// Runs the property on integers with these values. `Ok` when the failure reproduces: all assumptions hold
/// and a claim does not, or an operation's debug assertion fires.
fn replay(property: &Property, model: &BTreeMap<String, String>) -> Result<String, String> {
    let values: BTreeMap<String, i128> = model
        .iter()
        .filter_map(|(k, v)| Some((k.clone(), v.parse().ok()?)))
        .collect();
    let shown = values
        .iter()
        .filter(|(name, _)| !name.starts_with('t'))
        .chain(property.fixed.iter())
        .map(|(name, value)| format!("{name} = {value}"))
        .collect::<Vec<_>>()
        .join(", ");
    let Some(concrete) = &property.concrete else {
        return Err(format!("not replayed at this scale: {shown}"));
    };
    reset(Some(values), property.fixed.clone());
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let ran = catch_unwind(AssertUnwindSafe(concrete));
    std::panic::set_hook(hook);
    if ran.is_err() {
        return Ok(format!("an operation wraps at {shown}"));
    }
    arena(|a| {
        if a.assumptions.contains(&Truth::Known(false)) {
            return Err(format!("an assumption does not hold at {shown}"));
        }
        match a
            .obligations
            .iter()
            .find(|o| o.claim == Truth::Known(false))
        {
            Some(o) => Ok(format!("`{}` fails at {shown}", o.what)),
            None => Err(format!("every claim holds on integers at {shown}")),
        }
    })
}

/// Proves or refutes each property with each solver; every solver must agree, every counterexample must
/// reproduce. `bitwuzla` reads the questions as bit-vectors with true products: for 8/16 only.
///
/// # Errors
/// When a solver cannot be run at all.
pub fn run(
    properties: &[Property],
    python: &Path,
    solvers: &[&str],
    limit_s: u32,
    start: &(dyn Fn(usize) + Sync),
    tick: &(dyn Fn() + Sync),
) -> Result<Report, NoSolver> {
    let mut report = Report::default();
    let mut asked = put_questions(properties, &mut report.outcomes);
    // The facts about products are what a reading with true products does without.
    let abstracted = !solvers.contains(&"bitwuzla");
    for (name, query, holds) in product_facts().into_iter().filter(|_| abstracted) {
        let purpose = if holds {
            Purpose::Fact
        } else {
            Purpose::FactControl
        };
        asked.push(Asked {
            property: usize::MAX,
            purpose,
            what: name.to_string(),
            text: query.text,
        });
    }
    report.questions = asked.len();
    start(asked.len() * solvers.len());
    let answers: Vec<(String, Vec<Answer>)> = std::thread::scope(|scope| {
        let running: Vec<_> = solvers
            .iter()
            .map(|&solver| {
                let asked = &asked;
                (
                    solver,
                    scope.spawn(move || ask(python, solver, limit_s, asked, tick)),
                )
            })
            .collect();
        running
            .into_iter()
            .map(|(solver, thread)| match thread.join() {
                Ok(answers) => answers.map(|a| (solver.to_string(), a)),
                Err(_) => Err(NoSolver(format!("{solver}: its thread ended"))),
            })
            .collect::<Result<_, _>>()
    })?;

    let mut caught = vec![false; properties.len()];
    // Properties whose assumptions some path satisfies; those that were not asked count as satisfied.
    let mut possible: Vec<bool> = vec![true; properties.len()];
    for question in asked.iter().filter(|q| q.purpose == Purpose::Vacuity) {
        possible[question.property] = false;
    }
    for (id, question) in asked.iter().enumerate() {
        let verdicts: Vec<&str> = answers
            .iter()
            .map(|(_, a)| a[id].verdict.as_str())
            .collect();
        let name = properties
            .get(question.property)
            .map_or("facts about products", |p| p.name.as_str());
        let mut problem = |what: String| {
            report
                .failures
                .push(format!("{name}: {}: {what}", question.what))
        };
        if verdicts.contains(&"sat") && verdicts.contains(&"unsat") {
            problem(format!("the solvers disagree: {verdicts:?}"));
            continue;
        }
        match question.purpose {
            Purpose::Proof | Purpose::Fact => {
                report.obligations += 1;
                if verdicts.iter().any(|&v| v != "unsat") {
                    problem(format!("not proven: {verdicts:?}"));
                    if let Some(property) = properties.get(question.property) {
                        for (solver, a) in &answers {
                            if a[id].verdict == "sat" {
                                let shown = replay(property, &a[id].model)
                                    .unwrap_or_else(|e| format!("not real: {e}"));
                                report.failures.push(format!("  {solver}: {shown}"));
                            }
                        }
                    }
                }
            }
            Purpose::Vacuity => possible[question.property] |= verdicts.contains(&"sat"),
            Purpose::FactControl => {
                report.controls += 1;
                // One solver's word is enough for something to exist; the other may not know.
                if !verdicts.contains(&"sat") {
                    problem(format!("must be satisfiable: {verdicts:?}"));
                }
            }
            Purpose::Control => {
                // An operation that leaves its word shows on integers only where debug assertions watch it.
                if !cfg!(debug_assertions)
                    && question.what.contains(" fits ")
                    && verdicts.contains(&"sat")
                {
                    caught[question.property] = true;
                    continue;
                }
                for (_, a) in &answers {
                    if a[id].verdict == "sat" {
                        match replay(&properties[question.property], &a[id].model) {
                            Ok(shown) => {
                                report.replayed += 1;
                                if !caught[question.property] {
                                    report.outcomes[question.property].notes.push(shown);
                                }
                                caught[question.property] = true;
                            }
                            Err(why) => report
                                .failures
                                .push(format!("{name}: counterexample not real: {why}")),
                        }
                    }
                }
            }
        }
    }
    for (index, property) in properties.iter().enumerate() {
        if property.expect == Expect::Holds {
            report.controls += 1;
            if !possible[index] {
                report.failures.push(format!(
                    "{}: its assumptions cannot hold together, so it says nothing",
                    property.name
                ));
            }
        } else {
            report.controls += 1;
            if !caught[index] {
                report.failures.push(format!(
                    "{}: wrong on purpose, but nothing caught it",
                    property.name
                ));
            }
        }
    }
    for (solver, a) in &answers {
        report
            .seconds
            .insert(solver.clone(), a.iter().map(|a| a.seconds).sum());
    }
    for outcome in &mut report.outcomes {
        outcome.good = !report
            .failures
            .iter()
            .any(|f| f.starts_with(&format!("{}:", outcome.name)));
    }
    Ok(report)
}
