//! Runs ordinary code down both sides of every comparison that a model word cannot decide.
//!
//! A comparison asks [`decide`]; [`explore`] runs a closure again and again until every sequence of
//! answers has been given once.

use std::cell::RefCell;

thread_local!(static TRACE: RefCell<(Vec<bool>, usize)> = const { RefCell::new((Vec::new(), 0)) });

/// The answer of this run to the next undecided comparison: `true` first, `false` on a later run.
pub fn decide() -> bool {
    TRACE.with(|t| {
        let (answers, next) = &mut *t.borrow_mut();
        if *next == answers.len() {
            answers.push(true);
        }
        *next += 1;
        answers[*next - 1]
    })
}

/// Runs `f` once for every path through it; returns the number of paths.
pub fn explore(mut f: impl FnMut()) -> usize {
    TRACE.with(|t| *t.borrow_mut() = (Vec::new(), 0));
    let mut paths = 0;
    loop {
        TRACE.with(|t| t.borrow_mut().1 = 0);
        f();
        paths += 1;
        let more = TRACE.with(|t| {
            let (answers, _) = &mut *t.borrow_mut();
            while answers.last() == Some(&false) {
                answers.pop();
            }
            match answers.last_mut() {
                Some(last) => {
                    *last = false;
                    true
                }
                None => false,
            }
        });
        if !more {
            return paths;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_path_once() {
        let mut seen = Vec::new();
        let paths = explore(|| {
            // Three comparisons, the third only after a yes.
            let a = decide();
            let b = decide();
            let c = a && decide();
            seen.push((a, b, c));
        });
        assert_eq!(paths, 6);
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), 6);
    }
}
