extern crate std;
use super::{FaultCode, Limits};
use std::collections::BTreeSet;
use std::string::ToString;

const ALL: [FaultCode; 4] = [
    FaultCode::Open,
    FaultCode::Short,
    FaultCode::OutOfRange,
    FaultCode::Stuck,
];

/// Zero is free for "no fault", and a byte that came over a wire is a fault or nothing.
#[test]
fn bytes_go_there_and_back() {
    for byte in 0..=u8::MAX {
        let fault = FaultCode::from_byte(byte);
        assert_eq!(fault.is_some(), (1..=4).contains(&byte), "{byte}");
        assert!(fault.is_none_or(|fault| fault.to_byte() == byte));
    }
    assert_eq!(ALL.map(FaultCode::to_byte), [1, 2, 3, 4]);
}

#[test]
fn each_fault_has_words_of_its_own() {
    let words: BTreeSet<_> = ALL.iter().map(ToString::to_string).collect();
    assert_eq!(words.len(), 4);
    assert!(
        ALL.iter()
            .all(|fault| fault.to_string() == fault.text() && fault.text().len() > 8)
    );
}

/// Every code against the doc's definition, for an open wire that reads low and one that reads high.
#[test]
fn every_code_is_what_its_side_says() {
    let mut cases = 0;
    for (first, last, low, high) in [
        (182, 931, 91, 977),
        (1, 1, 0, 2),
        (500, 65_000, 499, u16::MAX),
    ] {
        for open_is_low in [true, false] {
            let (open, short) = if open_is_low {
                (low, high)
            } else {
                (high, low)
            };
            let limits = Limits::new(first, last, open, short);
            assert_eq!((limits.first(), limits.last()), (first, last));
            assert_eq!((limits.open(), limits.short()), (open, short));
            let (at_low, at_high) = if open_is_low {
                (FaultCode::Open, FaultCode::Short)
            } else {
                (FaultCode::Short, FaultCode::Open)
            };
            for code in 0..=u16::MAX {
                let expected = if (first..=last).contains(&code) {
                    None
                } else if (0..=low).contains(&code) {
                    Some(at_low)
                } else if (high..=u16::MAX).contains(&code) {
                    Some(at_high)
                } else {
                    Some(FaultCode::OutOfRange)
                };
                assert_eq!(limits.fault(code), expected, "{code} of {limits:?}");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 6 * 65_536);
}

/// Thresholds within the valid codes, or on one side of them, are no limits.
#[test]
fn thresholds_must_lie_on_both_sides() {
    let refused = |first, last, open, short| {
        std::panic::catch_unwind(|| Limits::new(first, last, open, short)).is_err()
    };
    assert!(!refused(10, 20, 9, 21) && !refused(10, 20, 21, 9) && !refused(10, 10, 9, 11));
    for (first, last, open, short) in [
        (10, 20, 10, 21),
        (10, 20, 9, 20),
        (10, 20, 21, 10),
        (10, 20, 20, 9),
        (10, 20, 5, 5),
        (10, 20, 25, 30),
        (20, 10, 5, 30),
    ] {
        assert!(
            refused(first, last, open, short),
            "{first} {last} {open} {short}"
        );
    }
}

/// Every code of ranges of every small width and of some large ones, after a good reading and after a fault.
#[test]
fn a_reading_comes_back_by_a_64th_of_the_range_at_least_one_code_at_most_a_quarter() {
    let mut cases = 0;
    for span in (0..=200).chain([255, 256, 749, 4_094, 65_000]) {
        let (first, last) = (100, 100 + span);
        let limits = Limits::new(first, last, 50, last + 50);
        let margin = (span / 64).max(1).min(span / 4);
        assert_eq!(limits.hysteresis(), margin, "{span}");
        for code in 0..=u16::MAX {
            let good = limits.fault_after(code, false);
            assert_eq!(good, limits.fault(code));
            let at_an_end = good.is_none() && (code < first + margin || code > last - margin);
            let expected = if at_an_end {
                Some(FaultCode::OutOfRange)
            } else {
                good
            };
            assert_eq!(
                limits.fault_after(code, true),
                expected,
                "{code} of {limits:?}"
            );
            cases += 1;
        }
    }
    assert_eq!(cases, 206 * 65_536);
}
