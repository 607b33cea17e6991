//! Asks solvers, and holds them against each other and against the integers.

use super::certificate::sha256;
use super::expression::{Truth, arena, reset};
use super::fork::explore;
use super::scope::Scope;
use super::smt::{counterexample_query, product_facts, vacuity_query};
use super::wire::{self, Answer};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::panic::{AssertUnwindSafe, catch_unwind};

pub use super::wire::{NoSolver, Solver};

/// What a question should come back as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expect {
    /// The property holds: no counterexample exists.
    Holds,
    /// Wrong on purpose: some counterexample exists, and reproduces on integers.
    Fails,
}

/// A statement, run on words of some kind.
pub type Statement = Box<dyn Fn() + Send + Sync>;

/// A property at one width, scale, comparison and action.
pub struct Property {
    /// What is stated: the name of the function that states it.
    pub statement: &'static str,
    /// For what.
    pub scope: Scope,
    /// The claim it belongs to.
    pub claim: &'static str,
    /// What should come back.
    pub expect: Expect,
    /// Gains to fix when a counterexample is wanted, so that products are linear.
    pub fixed: BTreeMap<String, i128>,
    /// The statement on symbols.
    pub symbolic: Statement,
    /// The statement on the machine's integers, for replays.
    pub concrete: Option<Statement>,
}

impl Property {
    /// For the table.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{} {}", self.statement, self.scope)
    }
}

/// Why a question is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
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

/// A question of a property.
pub struct Question {
    /// Why it is asked.
    pub purpose: Purpose,
    /// What it says, in words.
    pub what: String,
    /// SMT-LIB text without `check-sat`.
    pub text: String,
}

/// Everything that a property asks.
#[derive(Default)]
pub struct Questions {
    /// Paths through the source.
    pub paths: usize,
    /// Obligations shown by ranges alone.
    pub by_ranges: usize,
    /// The questions, none twice.
    pub list: Vec<Question>,
}

impl Questions {
    /// The questions' fingerprint: whatever is asked otherwise, more or less gives another one.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let mut all = format!("{} {}\n", self.paths, self.by_ranges);
        for q in &self.list {
            all.push_str(&format!("{:?}\n{}\n", q.purpose, q.text));
        }
        sha256(all.as_bytes())
    }
}

/// Runs the property's statement down every path and gathers what it asks.
#[must_use]
pub fn questions(property: &Property) -> Questions {
    let mut asked = Questions::default();
    let mut seen = BTreeSet::new();
    let (fixed, purpose) = match property.expect {
        Expect::Holds => (BTreeMap::new(), Purpose::Proof),
        Expect::Fails => (property.fixed.clone(), Purpose::Control),
    };
    asked.paths = explore(|| {
        reset(None, fixed.clone());
        (property.symbolic)();
        // Claims that share their assumptions go into one question.
        let mut groups: BTreeMap<(bool, usize), Vec<usize>> = BTreeMap::new();
        arena(|a| {
            for (i, o) in a.obligations.iter().enumerate() {
                if o.claim == Truth::Known(true) {
                    asked.by_ranges += 1;
                } else {
                    let key = (o.operation, o.assumptions);
                    groups.entry(key).or_default().push(i);
                }
            }
        });
        for group in groups.values() {
            let Some(query) = counterexample_query(group) else {
                asked.by_ranges += group.len();
                continue;
            };
            if seen.insert(query.text.clone()) {
                let what = arena(|a| {
                    let names = group.iter().map(|&i| a.obligations[i].what.clone());
                    names.collect::<Vec<_>>().join("; ")
                });
                let text = query.text;
                asked.list.push(Question {
                    purpose,
                    what,
                    text,
                });
            }
        }
    });
    if property.expect == Expect::Holds {
        // With fixed gains, so that the question is linear; one path that can be taken is enough. A path whose
        // assumptions contradict each other asks nothing: without any other, the property says nothing.
        explore(|| {
            reset(None, property.fixed.clone());
            (property.symbolic)();
            if let Some(query) = vacuity_query()
                && seen.insert(query.text.clone())
            {
                asked.list.push(Question {
                    purpose: Purpose::Vacuity,
                    what: "the assumptions can hold together".to_string(),
                    text: query.text,
                });
            }
        });
    }
    asked
}

/// A property's part in a question that several may share.
struct Owner {
    property: usize,
    purpose: Purpose,
    what: String,
}

struct Asked {
    text: String,
    owners: Vec<Owner>,
}

/// What became of one property.
#[derive(Clone, Debug, Serialize)]
pub struct Outcome {
    /// What is stated.
    pub statement: &'static str,
    /// For what.
    pub scope: Scope,
    /// The claim it belongs to.
    pub claim: &'static str,
    /// Is it wrong on purpose?
    pub control: bool,
    /// Paths through the source.
    pub paths: usize,
    /// Obligations shown by ranges alone.
    pub by_ranges: usize,
    /// Questions asked.
    pub questions: usize,
    /// Of these, proof obligations that every solver found unsatisfiable.
    pub proven: usize,
    /// Their fingerprint.
    pub fingerprint: String,
    /// Did it come back as expected, from every solver?
    pub good: bool,
    /// What was wrong, or the counterexample that a control gave.
    pub notes: Vec<String>,
}

impl Outcome {
    /// For the table.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{} {}", self.statement, self.scope)
    }
}

/// What a whole run gave.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Report {
    /// By property.
    pub outcomes: Vec<Outcome>,
    /// Different questions each solver answered.
    pub questions: usize,
    /// Proof obligations that every solver found unsatisfiable.
    pub obligations: usize,
    /// Controls that must be satisfiable (wrong orders, and vacuity checks).
    pub controls: usize,
    /// Counterexamples reproduced on integers.
    pub replayed: usize,
    /// Time each solver took, in seconds.
    pub seconds: BTreeMap<String, f64>,
    /// Each solver's version, as it says itself.
    pub versions: BTreeMap<String, String>,
    /// Everything that was not as expected.
    pub failures: Vec<String>,
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

/// Every different question of all properties, with whom it belongs to; and an outcome to fill for each.
fn put_questions(properties: &[Property], facts: bool) -> (Vec<Asked>, Vec<Outcome>) {
    let gathered: Vec<Questions> = properties.par_iter().map(questions).collect();
    let mut asked: Vec<Asked> = Vec::new();
    let mut known: HashMap<String, usize> = HashMap::new();
    let mut put = |text: String, owner: Owner| {
        let index = *known.entry(text).or_insert_with_key(|text| {
            asked.push(Asked {
                text: text.clone(),
                owners: Vec::new(),
            });
            asked.len() - 1
        });
        asked[index].owners.push(owner);
    };
    let mut outcomes = Vec::new();
    for (property, (p, gathered)) in properties.iter().zip(gathered).enumerate() {
        outcomes.push(Outcome {
            statement: p.statement,
            scope: p.scope,
            claim: p.claim,
            control: p.expect == Expect::Fails,
            paths: gathered.paths,
            by_ranges: gathered.by_ranges,
            questions: gathered.list.len(),
            proven: 0,
            fingerprint: gathered.fingerprint(),
            good: true,
            notes: Vec::new(),
        });
        for q in gathered.list {
            let (purpose, what) = (q.purpose, q.what);
            let owner = Owner {
                property,
                purpose,
                what,
            };
            put(q.text, owner);
        }
    }
    for (name, query, holds) in product_facts().into_iter().filter(|_| facts) {
        let owner = Owner {
            property: usize::MAX,
            purpose: if holds {
                Purpose::Fact
            } else {
                Purpose::FactControl
            },
            what: name.to_string(),
        };
        put(query.text, owner);
    }
    (asked, outcomes)
}

/// Judges the answers to the questions of one kind after another.
struct Judge<'a> {
    properties: &'a [Property],
    answers: &'a [(String, Vec<Answer>)],
    report: Report,
    /// Wrong on purpose, and caught.
    caught: Vec<bool>,
    /// The assumptions can hold together on some path.
    possible: Vec<bool>,
}

impl Judge<'_> {
    fn problem(&mut self, owner: &Owner, what: &str) {
        let name = match self.report.outcomes.get_mut(owner.property) {
            Some(outcome) => {
                outcome.good = false;
                outcome.name()
            }
            None => "facts about products".to_string(),
        };
        self.report
            .failures
            .push(format!("{name}: {}: {what}", owner.what));
    }

    fn one(&mut self, id: usize, owner: &Owner) {
        let answers = self.answers;
        let verdicts: Vec<&str> = answers
            .iter()
            .map(|(_, a)| a[id].verdict.as_str())
            .collect();
        if verdicts.contains(&"sat") && verdicts.contains(&"unsat") {
            self.problem(owner, &format!("the solvers disagree: {verdicts:?}"));
            return;
        }
        // One solver's word is enough for a product to exist; in nonlinear arithmetic the other may not know.
        let settled = owner.purpose == Purpose::FactControl
            || verdicts.iter().all(|v| *v == "sat" || *v == "unsat");
        if !settled {
            self.problem(owner, &format!("no answer: {verdicts:?}"));
            return;
        }
        match owner.purpose {
            Purpose::Proof | Purpose::Fact => {
                if verdicts.iter().all(|&v| v == "unsat") && !verdicts.is_empty() {
                    self.report.obligations += 1;
                    if let Some(outcome) = self.report.outcomes.get_mut(owner.property) {
                        outcome.proven += 1;
                    }
                    return;
                }
                self.problem(owner, &format!("not proven: {verdicts:?}"));
                if let Some(property) = self.properties.get(owner.property) {
                    for (solver, a) in answers {
                        let shown = replay(property, &a[id].model)
                            .unwrap_or_else(|e| format!("not real: {e}"));
                        self.report.failures.push(format!("  {solver}: {shown}"));
                    }
                }
            }
            Purpose::Vacuity => self.possible[owner.property] |= verdicts.contains(&"sat"),
            Purpose::FactControl => {
                self.report.controls += 1;
                if !verdicts.contains(&"sat") {
                    self.problem(owner, &format!("must be satisfiable: {verdicts:?}"));
                }
            }
            Purpose::Control => self.control(id, owner),
        }
    }

    fn control(&mut self, id: usize, owner: &Owner) {
        let (index, answers) = (owner.property, self.answers);
        for (_, a) in answers.iter().filter(|(_, a)| a[id].verdict == "sat") {
            // An operation that leaves its word shows on integers only where debug assertions watch it.
            if !cfg!(debug_assertions) && owner.what.contains(" fits ") {
                self.caught[index] = true;
                continue;
            }
            match replay(&self.properties[index], &a[id].model) {
                Ok(shown) => {
                    self.report.replayed += 1;
                    if !self.caught[index] {
                        self.report.outcomes[index].notes.push(shown);
                    }
                    self.caught[index] = true;
                }
                Err(why) => self.problem(owner, &format!("counterexample not real: {why}")),
            }
        }
    }

    fn finish(mut self) -> Report {
        for (index, property) in self.properties.iter().enumerate() {
            self.report.controls += 1;
            let (good, what) = match property.expect {
                Expect::Holds => (
                    self.possible[index],
                    "its assumptions cannot hold together, so it says nothing",
                ),
                Expect::Fails => (
                    self.caught[index],
                    "wrong on purpose, but nothing caught it",
                ),
            };
            if !good {
                let outcome = &mut self.report.outcomes[index];
                outcome.good = false;
                let failure = format!("{}: {what}", outcome.name());
                self.report.failures.push(failure);
            }
        }
        self.report
    }
}

/// Proves or refutes each property with each solver; every solver must answer everything, all must agree, every
/// counterexample must reproduce. With `facts`, the facts about products are asked as well: what a reading with true
/// products (bit-vectors) does without.
///
/// # Errors
/// When a solver cannot be run, ends early, does not answer in time, or answers what it was not asked.
pub fn run(
    properties: &[Property],
    solvers: &[Solver],
    facts: bool,
    limit_s: u32,
    start: &(dyn Fn(usize) + Sync),
    tick: &(dyn Fn() + Sync),
) -> Result<Report, NoSolver> {
    if solvers.is_empty() {
        return Err(NoSolver("none was named".to_string()));
    }
    let (asked, outcomes) = put_questions(properties, facts);
    let texts: Vec<&str> = asked.iter().map(|a| a.text.as_str()).collect();
    start(texts.len() * solvers.len());
    let replies: Vec<wire::Replies> = std::thread::scope(|scope| {
        let running: Vec<_> = solvers
            .iter()
            .map(|solver| scope.spawn(|| wire::ask(solver, limit_s, &texts, tick)))
            .collect();
        running
            .into_iter()
            .map(|thread| match thread.join() {
                Ok(answers) => answers,
                Err(_) => Err(NoSolver("a solver's thread ended".to_string())),
            })
            .collect::<Result<_, _>>()
    })?;
    let mut report = Report {
        outcomes,
        questions: asked.len(),
        ..Report::default()
    };
    let mut answers = Vec::new();
    for (solver, reply) in solvers.iter().zip(replies) {
        let seconds = reply.answers.iter().map(|a| a.seconds).sum();
        report.seconds.insert(solver.name.clone(), seconds);
        report.versions.insert(solver.name.clone(), reply.version);
        answers.push((solver.name.clone(), reply.answers));
    }
    let mut judge = Judge {
        properties,
        answers: &answers,
        report,
        caught: vec![false; properties.len()],
        possible: vec![false; properties.len()],
    };
    for (id, question) in asked.iter().enumerate() {
        for owner in &question.owners {
            judge.one(id, owner);
        }
    }
    Ok(judge.finish())
}
