//! No fault hides between the prover and a solver: each kind of bad solver fails the run, and so does a property that
//! says nothing.

use controller_core::law::Action;
use hushloop_proof::expression::{assume, claim, unknown};
use hushloop_proof::scope::WHOLE;
use hushloop_proof::solve::{Expect, Property, Report, Solver, run};
use std::collections::BTreeMap;

fn property(expect: Expect, name: &'static str, statement: fn()) -> Property {
    Property {
        statement: name,
        scope: WHOLE.at(8, 4, Action::Direct),
        claim: "test",
        expect,
        fixed: BTreeMap::from([("fixed".to_string(), 1)]),
        symbolic: Box::new(statement),
        concrete: Some(Box::new(statement)),
    }
}

/// Something that holds but not by ranges alone, and something wrong on purpose.
fn two() -> Vec<Property> {
    vec![
        property(Expect::Holds, "holds", || {
            let (x, y) = (unknown("x", 0, 9), unknown("y", 0, 9));
            assume(x.at_most(y));
            claim("transitive", (x + 1).at_most(y + 1));
        }),
        property(Expect::Fails, "wrong", || {
            let x = unknown("wrong_x", 0, 9);
            claim("never 3", x.less(3) | (x - 3).at_most(0).implies(x.less(3)));
        }),
    ]
}

fn stand_in(arguments: &[&str]) -> Solver {
    let mut command = vec![env!("CARGO_BIN_EXE_stand-in").to_string()];
    command.extend(arguments.iter().map(ToString::to_string));
    Solver {
        name: arguments.join(" "),
        command,
    }
}

fn asked(properties: &[Property], first: &[&str], second: &[&str]) -> Result<Report, String> {
    let solvers = [stand_in(first), stand_in(second)];
    run(properties, &solvers, false, 1, &|_| {}, &|| {}).map_err(|e| e.to_string())
}

#[test]
fn two_honest_solvers_prove_and_refute() {
    let report = asked(&two(), &["honest"], &["honest"]).unwrap();
    assert_eq!(report.failures, Vec::<String>::new());
    assert_eq!((report.obligations, report.controls), (1, 2));
    assert!(report.replayed > 0);
    assert!(report.outcomes.iter().all(|o| o.good));
}

#[test]
fn a_solver_that_does_not_know_fails_the_run() {
    let report = asked(&two(), &["honest"], &["unknown"]).unwrap();
    assert_eq!(report.obligations, 0, "counted after the verdict only");
    assert!(
        report.failures.iter().any(|f| f.contains("no answer")),
        "{:?}",
        report.failures
    );
    assert!(report.outcomes.iter().all(|o| !o.good));
}

#[test]
fn a_solver_that_says_one_thing_to_everything_is_not_believed() {
    for lie in ["unsat", "sat"] {
        let error = asked(&two(), &["honest"], &[lie]).unwrap_err();
        assert!(error.contains("not to be believed"), "{error}");
    }
}

/// What another solver said is no answer: each has numbers, an order and decoys of its own.
#[test]
fn a_solver_that_copies_is_not_believed() {
    let file = std::env::temp_dir().join(format!("hushloop-answers-{}", std::process::id()));
    let path = file.to_string_lossy().into_owned();
    asked(&two(), &["records", &path], &["honest"]).unwrap();
    let result = asked(&two(), &["honest"], &["copies", &path]);
    std::fs::remove_file(&file).unwrap();
    match result {
        Err(error) => assert!(error.contains("not to be believed"), "{error}"),
        Ok(report) => assert!(!report.failures.is_empty()),
    }
}

#[test]
fn a_missing_killed_or_silent_solver_fails_the_run() {
    let missing = Solver {
        name: "missing".to_string(),
        command: vec!["/nonexistent/solver".to_string()],
    };
    let error = run(&two(), &[missing], false, 1, &|_| {}, &|| {}).unwrap_err();
    assert!(error.to_string().contains("/nonexistent/solver"), "{error}");
    let error = asked(&two(), &["honest"], &["dies"]).unwrap_err();
    assert!(error.contains("questions answered"), "{error}");
    assert!(run(&two(), &[], false, 1, &|_| {}, &|| {}).is_err());
}

#[test]
fn answers_to_what_was_not_asked_fail_the_run() {
    let error = asked(&two(), &["honest"], &["stranger"]).unwrap_err();
    assert!(error.contains("which it was not asked"), "{error}");
    let error = asked(&two(), &["twice"], &["honest"]).unwrap_err();
    assert!(error.contains("twice"), "{error}");
}

/// Its claim would hold, for nothing at all.
#[test]
fn a_contradictory_precondition_is_noticed() {
    let empty = property(Expect::Holds, "empty", || {
        let x = unknown("x", 0, 9);
        assume(x.at_most(-1));
        claim("anything", x.same(5));
    });
    let report = asked(&[empty], &["honest"], &["honest"]).unwrap();
    assert!(
        report.failures.iter().any(|f| f.contains("says nothing")),
        "{:?}",
        report.failures
    );
    assert!(!report.outcomes[0].good);
}

/// A defect that no test of the law could see: it sits behind an equality that one word in 65536 meets.
#[test]
fn what_stands_behind_an_equality_of_words_is_asked() {
    use hushloop_proof::symbol::{Exact, Symbol};
    let hidden = property(Expect::Fails, "hidden", || {
        let x = unknown("wrong_x", 0, 9);
        let word = Symbol::<8, true>::from_z(x);
        let result = if word == Symbol::<8, true>::from_z(hushloop_proof::expression::Z::Const(3)) {
            x + 1
        } else {
            x
        };
        claim("unchanged", result.same(x));
    });
    let asked = hushloop_proof::solve::questions(&hidden);
    assert_eq!(asked.paths, 2);
    assert!(!asked.list.is_empty());
}

#[test]
fn a_silent_solver_is_given_up() {
    let error = asked(&two(), &["honest"], &["silent"]).unwrap_err();
    assert!(error.contains("no answer for 5 s"), "{error}");
}
