//! The list of claims about one loop, each with how it is known.

use super::catalogue;
use super::overflow::intervals;
use super::sampling::{Tally, sample};
use super::solve::{self, Report};
use super::threshold::{Enumeration, enumerate};
use crate::integers::LawIntegers;
use serde::Serialize;
use std::path::PathBuf;

/// How a claim is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum How {
    /// For every input and state, by intervals or by solvers.
    Proven,
    /// Every case was decided.
    Enumerated,
    /// Random cases were tried.
    Tested,
    /// Nothing is said.
    #[serde(rename = "not claimed")]
    NotClaimed,
}

impl How {
    /// In words.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::Enumerated => "enumerated",
            Self::Tested => "tested",
            Self::NotClaimed => "not claimed",
        }
    }
}

/// A claim about a loop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Claim {
    /// What is said.
    pub claim: String,
    /// How it is known.
    pub how: How,
    /// Cases decided, tried, or obligations proven.
    pub cases: u64,
    /// Did it hold? Nothing for what is not claimed.
    pub holds: Option<bool>,
    /// What the cases are, or why nothing is claimed.
    pub note: String,
}

impl Claim {
    fn new(claim: &str, how: How, cases: u64, holds: bool, note: impl Into<String>) -> Self {
        Self {
            claim: claim.to_string(),
            how,
            cases,
            holds: Some(holds),
            note: note.into(),
        }
    }

    fn not_claimed(claim: &str, why: &str) -> Self {
        Self {
            claim: claim.to_string(),
            how: How::NotClaimed,
            cases: 0,
            holds: None,
            note: why.to_string(),
        }
    }
}

/// How much work to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effort {
    /// Seconds: intervals, thresholds, 2^20 random cases.
    Quick,
    /// Minutes: solvers as well, run by this Python interpreter, and 2^26 random cases.
    Full(PathBuf),
}

/// Told what is being done and how far it is: `(stage, done, of)`.
pub type Progress<'a> = &'a (dyn Fn(&str, u64, u64) + Sync);

const WRAP: &str = "no operation wraps or loses a bit, for any input and reachable state";
const LIMITS: &str = "output and integrator stay within the limits";
const EXACT: &str = "output within half an LSB of the exact law for ever, integrator exact";
const ORDER: &str =
    "order: a hotter history never yields less cooling, a colder one never less heat";
const BUMPLESS: &str = "a set-point change makes no bump while the wanted integrator fits, else the nearest attainable";
const DEAD_ZONE: &str = "no dead zone: with an error the output moves, or is at its limit";
const PANIC: &str = "no reachable panic in the linked image";

/// What a design's loop runs, by the beginnings of the properties' names. No design has another form of the law,
/// changes its gains while it runs, is a two-position law or has a schedule.
const OF_A_DESIGN: [&str; 8] = [
    "pi_exact ",
    "pid_exact ",
    "pi_order ",
    "absorb_exact ",
    "set_point_",
    "no_dead_zone ",
    "increments_compose ",
    "shape ",
];

fn solved(
    subject: &LawIntegers,
    python: &std::path::Path,
    progress: Progress<'_>,
) -> Result<Report, String> {
    let mut properties = catalogue::all();
    let scale = format!(" 16/32 SP {} ", subject.scale);
    let filter = format!(" K {}", subject.filter_exponent);
    properties.retain(|p| {
        let name = format!("{} ", p.name);
        let this_filter = !name.starts_with("pid_exact")
            || subject.has_derivative() && name.contains(&format!("{filter} "));
        OF_A_DESIGN.iter().any(|of| name.starts_with(of))
            && (name.contains(&scale) || name.contains("increments_compose 16/32"))
            && this_filter
            || p.claim == catalogue::CONTROL && name.contains(" 16/32 ")
            || name.starts_with("pid_exact 16/32 SP 8 ") && this_filter
    });
    let total = std::sync::atomic::AtomicU64::new(0);
    let done = std::sync::atomic::AtomicU64::new(0);
    let order = std::sync::atomic::Ordering::Relaxed;
    let start = |n: usize| total.store(n as u64, order);
    let tick = || {
        let n = done.fetch_add(1, order) + 1;
        progress("solvers", n, total.load(order));
    };
    solve::run(&properties, python, &["z3", "cvc5"], 60, &start, &tick).map_err(|e| e.to_string())
}

/// Obligations of the report that belong to one of these claims, and whether all came back as expected.
fn share(report: &Report, of: &[&str], only: &str) -> (u64, bool) {
    let chosen = report
        .outcomes
        .iter()
        .filter(|o| of.contains(&o.claim) && o.name.starts_with(only));
    chosen.fold((0, true), |(n, good), o| {
        (n + (o.questions + o.by_ranges) as u64, good && o.good)
    })
}

/// Checks every claim about the subject that applies to it.
///
/// # Errors
/// With [`Effort::Full`], when the solvers cannot be run.
pub fn claims(
    subject: &LawIntegers,
    effort: &Effort,
    progress: Progress<'_>,
) -> Result<Vec<Claim>, String> {
    let mut list = Vec::new();
    let derivative = subject.has_derivative();

    progress("intervals", 0, 1);
    let record = intervals(subject);
    let note = match record.failures.first() {
        None => "operations shown exact on intervals, both kinds of comparison".to_string(),
        Some(first) => first.clone(),
    };
    list.push(Claim::new(
        WRAP,
        How::Proven,
        record.operations,
        record.failures.is_empty(),
        note,
    ));
    if !record.failures.is_empty() {
        // Nothing below means anything when an operation can wrap.
        return Ok(list);
    }

    let cases: u64 = if *effort == Effort::Quick {
        1 << 20
    } else {
        1 << 26
    };
    let tried = std::sync::atomic::AtomicU64::new(0);
    let tick = |n: u64| {
        let sum = tried.fetch_add(n, std::sync::atomic::Ordering::Relaxed) + n;
        progress("random cases", sum, cases);
    };
    let tally: Tally =
        sample(subject, cases, &tick).ok_or("the law's constructor refuses this loop")?;
    let report = match effort {
        Effort::Quick => None,
        Effort::Full(python) => Some(solved(subject, python, progress)?),
    };
    let controls = report.as_ref().is_none_or(|r| {
        r.outcomes
            .iter()
            .filter(|o| o.claim == catalogue::CONTROL)
            .all(|o| o.good)
    });
    let facts = report.as_ref().is_none_or(|r| {
        !r.failures
            .iter()
            .any(|f| f.starts_with("facts about products"))
    });
    let law = if derivative { "pid_exact" } else { "pi_exact" };
    // Proven by the solvers for all gains and limits at this scale; the samples must agree all the same.
    let proven = |claim: &str, of: &[&str], only: &str, sampled: bool| {
        report.as_ref().map(|r| {
            let (n, good) = share(r, of, only);
            let note = "obligations proven for all gains and limits at this scale, two solvers agreeing, every control caught";
            Claim::new(claim, How::Proven, n, good && n > 0 && controls && facts && sampled, note)
        })
    };
    let tested = |claim: &str, n: u64, failed: u64, note: &str| {
        Claim::new(claim, How::Tested, n, failed == 0, note)
    };

    if derivative {
        let within = tally.outside == 0;
        let exact = tally.inexact == 0;
        list.push(
            proven(LIMITS, &[catalogue::EXACT], law, within)
                .unwrap_or_else(|| tested(LIMITS, tally.cases, tally.outside, "random cases")),
        );
        list.push(
            proven(EXACT, &[catalogue::EXACT], law, exact).unwrap_or_else(|| {
                tested(
                    EXACT,
                    tally.cases,
                    tally.inexact,
                    &format!(
                        "random cases; largest distance {:.3} LSB",
                        tally.worst_lsb()
                    ),
                )
            }),
        );
        list.push(Claim::not_claimed(
            ORDER,
            "a derivative term does not keep order",
        ));
    } else {
        progress("thresholds", 0, 1);
        let done: Enumeration =
            enumerate(subject).ok_or("the law's constructor refuses this loop")?;
        let note = format!(
            "(integral, error) pairs, decided by {} evaluations at thresholds, given the law's proven shape",
            done.evaluations
        );
        let holds = done.mismatches == 0;
        list.push(
            proven(
                LIMITS,
                &[catalogue::EXACT],
                law,
                holds && tally.outside == 0,
            )
            .unwrap_or_else(|| {
                Claim::new(
                    LIMITS,
                    How::Enumerated,
                    done.pairs,
                    holds && tally.outside == 0,
                    note.clone(),
                )
            }),
        );
        list.push(Claim::new(
            EXACT,
            How::Enumerated,
            done.pairs,
            holds && tally.inexact == 0,
            note,
        ));
        list.extend(proven(
            EXACT,
            &[catalogue::EXACT, catalogue::SHAPE],
            "",
            holds && tally.inexact == 0,
        ));
        list.push(
            proven(ORDER, &[catalogue::ORDER], "", tally.disordered == 0).unwrap_or_else(|| {
                tested(
                    ORDER,
                    tally.cases,
                    tally.disordered,
                    "random pairs of histories",
                )
            }),
        );
    }
    list.push(
        proven(
            BUMPLESS,
            &[catalogue::BUMPLESS, catalogue::ABSORPTION],
            "",
            tally.bumped == 0,
        )
        .unwrap_or_else(|| tested(BUMPLESS, tally.cases, tally.bumped, "random changes")),
    );
    if subject.ki == 0 {
        list.push(Claim::not_claimed(DEAD_ZONE, "there is no integral action"));
    } else {
        let wait = 65_536_u32.div_ceil(subject.ki.into());
        let within = format!(
            "within {wait} samples at an error of one count, {} at one kelvin of 128",
            65_536_u32.div_ceil(u32::from(subject.ki) * 128)
        );
        let settled = if derivative {
            ", once the derivative's filter has settled"
        } else {
            ""
        };
        let claim = format!("{DEAD_ZONE}{settled}; {within}");
        match proven(&claim, &[catalogue::DEAD_ZONE], "", tally.stuck == 0) {
            Some(claim) => list.push(claim),
            None if derivative => {
                list.push(Claim::not_claimed(&claim, "needs the solvers (--full)"))
            }
            None => list.push(tested(
                &claim,
                tally.dead_zone_cases,
                tally.stuck,
                "random waits of up to 4096 samples",
            )),
        }
    }
    list.push(Claim::not_claimed(
        PANIC,
        "checked for each target when its firmware is linked, not here",
    ));
    Ok(list)
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::law::Action;

    fn quiet(_: &str, _: u64, _: u64) {}

    fn subject(kd: u16) -> LawIntegers {
        // A gain of 78 LSB/LSB saturates most errors, which keeps the threshold enumeration of a test build short.
        LawIntegers {
            kp: 20_000,
            ki: 655,
            kd,
            scale: 8,
            filter_exponent: 3,
            lo: 6554,
            hi: 32767,
            action: Action::Direct,
        }
    }

    #[test]
    fn every_claim_of_a_pi_loop() {
        let list = claims(&subject(0), &Effort::Quick, &quiet).unwrap();
        let hows: Vec<How> = list.iter().map(|c| c.how).collect();
        use How::{Enumerated, NotClaimed, Proven, Tested};
        assert_eq!(
            hows,
            [
                Proven, Enumerated, Enumerated, Tested, Tested, Tested, NotClaimed
            ]
        );
        assert!(list.iter().all(|c| c.holds != Some(false)), "{list:#?}");
        assert_eq!(list[1].cases, 65_535 * (32_767 - 6_554 + 1) * 65_536);
    }

    #[test]
    fn a_pid_loop_claims_no_order() {
        let list = claims(&subject(5000), &Effort::Quick, &quiet).unwrap();
        let order = list.iter().find(|c| c.claim.starts_with("order")).unwrap();
        assert_eq!((order.how, order.holds), (How::NotClaimed, None));
        assert!(list.iter().all(|c| c.holds != Some(false)), "{list:#?}");
    }

    #[test]
    fn an_overflow_ends_the_list() {
        let list = claims(&subject(60_000), &Effort::Quick, &quiet).unwrap();
        assert_eq!(list.len(), 1);
        assert_eq!(list[0].holds, Some(false));
    }
}
