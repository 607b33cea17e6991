extern crate std;
use super::{Jump, Native, Packed};
use crate::table::Lookup;
use crate::table::tests::{Ties, polyline};
use fixed::types::extra::U7;
use std::vec::Vec;

type Table<const N: usize, const J: usize> = Packed<[u8; N], J, U7>;

/// Ten segments, so three bytes of width codes: widths as multiples of the one before (1, 2, 1/2, 1/4),
/// from a first of 8 codes, and their differences in value units.
const WIDTHS: [(u8, u32); 10] = [
    (0, 8),
    (1, 16),
    (2, 8),
    (3, 2),
    (1, 4),
    (1, 8),
    (0, 8),
    (1, 16),
    (3, 4),
    (3, 1),
];
const DIFFERENCES: [u8; 10] = [64, 255, 1, 0, 77, 3, 128, 200, 9, 31];
const BYTES: [u8; 13] = {
    let mut bytes = [0; 13];
    let mut i = 0;
    while i < 10 {
        bytes[i / 4] |= WIDTHS[i].0 << (i % 4 * 2);
        bytes[3 + i] = DIFFERENCES[i];
        i += 1;
    }
    bytes
};
const FIRST: u16 = 100;
const ORIGIN: i16 = 2_561;

/// Where the knots are, from the widths and differences as listed.
fn knots(first: u16, origin: i16, unit: u32, rising: bool) -> Vec<(u32, i32)> {
    let mut at = (u32::from(first), i32::from(origin));
    let mut knots = std::vec![at];
    for ((_, width), difference) in WIDTHS.into_iter().zip(DIFFERENCES) {
        let step = i32::from(difference) << unit;
        at = (at.0 + width, at.1 + if rising { step } else { -step });
        knots.push(at);
    }
    knots
}

/// A jump to a segment that is a multiple of four.
fn jump(segment: usize) -> Jump {
    let sum = |upto: usize| WIDTHS[..upto].iter().map(|(_, width)| width).sum::<u32>();
    Jump {
        offset: sum(segment) as u16,
        climb: DIFFERENCES[..segment].iter().map(|d| u16::from(*d)).sum(),
        segment: segment as u8,
        exponent: WIDTHS[segment - 1].1.ilog2() as u8,
    }
}

/// Every code, for every value unit, rising and falling, with no, one and two jumps, against the
/// straight lines the table stands for.
#[test]
fn every_code_is_on_the_lines_between_the_knots() {
    let mut cases = 0_u32;
    for unit in 0..=4 {
        for rising in [true, false] {
            let shape = Packed::<(), 0, U7>::shape(unit, rising, 3);
            let plain = Table::<13, 0>::from_bytes(FIRST, ORIGIN, 10, shape, BYTES, []);
            let one = Table::<13, 1>::from_bytes(FIRST, ORIGIN, 10, shape, BYTES, [jump(8)]);
            let two =
                Table::<13, 2>::from_bytes(FIRST, ORIGIN, 10, shape, BYTES, [jump(4), jump(8)]);
            assert_eq!((plain.bytes(), one.bytes(), two.bytes()), (19, 25, 31));
            assert_eq!(plain.elements(), &BYTES);
            let other = two.read_through::<&[u8], Native>(&BYTES);
            let knots = knots(FIRST, ORIGIN, unit, rising);
            let ties = if rising { Ties::Up } else { Ties::Down };
            for code in (0..400).chain(65_000..=u16::MAX) {
                let expected = polyline(&knots, code, ties);
                let words = [
                    plain.lookup(code),
                    one.lookup(code),
                    two.lookup(code),
                    other.lookup(code),
                ];
                for word in words {
                    assert_eq!(word, expected, "code {code}, unit {unit}, rising {rising}");
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 5 * 2 * (400 + 536));
}

/// One segment of each width from one code to all of them.
#[test]
fn every_width() {
    for exponent in 0..=15 {
        let shape = Packed::<(), 0, U7>::shape(6, true, exponent);
        assert_eq!(u32::from(shape), 6 | exponent << 4);
        let table = Table::<2, 0>::from_bytes(0, -8_000, 1, shape, [0, 251], []);
        let knots = [(0, -8_000), (1 << exponent, -8_000 + 251 * 64)];
        for code in 0..=u16::MAX {
            assert_eq!(
                table.lookup(code),
                polyline(&knots, code, Ties::Up),
                "code {code}"
            );
        }
    }
    assert_eq!(Packed::<(), 0, U7>::shape(7, false, 15), 0xff);
    assert_eq!(
        [1, 4, 5, 8, 9].map(Packed::<(), 0, U7>::code_bytes),
        [1, 1, 2, 2, 3]
    );
}

fn refused<T>(f: impl FnOnce() -> T + std::panic::UnwindSafe) -> bool {
    std::panic::catch_unwind(f).is_err()
}

#[test]
fn shapes_that_cannot_be_are_refused() {
    let shape = |unit, exponent| refused(move || Packed::<(), 0, U7>::shape(unit, true, exponent));
    assert!(!shape(7, 15) && shape(8, 15) && shape(7, 16));
}

#[test]
fn tables_that_cannot_be_are_refused() {
    let one = |first: u16, origin: i16, rising: bool, unit: u32, exponent: u32, code: u8, d: u8| {
        refused(move || {
            let shape = Packed::<(), 0, U7>::shape(unit, rising, exponent);
            Table::<2, 0>::from_bytes(first, origin, 1, shape, [code, d], [])
        })
    };
    assert!(!one(100, 0, true, 0, 3, 0, 5));
    // widths from one code to 2^15
    assert!(
        !one(0, 0, true, 0, 0, 0, 5) && one(0, 0, true, 0, 0, 2, 5) && one(0, 0, true, 0, 1, 3, 5)
    );
    assert!(!one(0, 0, true, 0, 14, 1, 5) && one(0, 0, true, 0, 15, 1, 5));
    // up to the last code
    assert!(!one(65_528, 0, true, 0, 3, 0, 5) && one(65_529, 0, true, 0, 3, 0, 5));
    // up to the largest and down to the smallest word
    assert!(!one(0, 32_762, true, 0, 3, 0, 5) && one(0, 32_763, true, 0, 3, 0, 5));
    assert!(!one(0, -32_763, false, 0, 3, 0, 5) && one(0, -32_764, false, 0, 3, 0, 5));
    assert!(!one(0, 127, true, 7, 3, 0, 255) && one(0, 128, true, 7, 3, 0, 255));
    let shape = Packed::<(), 0, U7>::shape(0, true, 3);
    assert!(
        refused(move || Table::<2, 0>::from_bytes(0, 0, 0, shape, [0, 5], [])),
        "none"
    );
    assert!(
        refused(move || Table::<2, 0>::from_bytes(0, 0, 2, shape, [0, 5], [])),
        "two"
    );
    assert!(
        refused(move || Table::<6, 0>::from_bytes(0, 0, 5, shape, [0; 6], [])),
        "five"
    );
    assert!(!refused(move || Table::<7, 0>::from_bytes(
        0,
        0,
        5,
        shape,
        [0; 7],
        []
    )));
    let access = |segments: u8, length: usize| {
        let bytes = &[0; 9][..length];
        refused(move || Packed::<&[u8], 0, U7>::from_slice(0, 0, segments, shape, bytes, []))
    };
    assert!(!access(1, 2) && access(1, 1) && access(0, 9) && !access(5, 7) && access(5, 6));
}

#[test]
fn jumps_that_do_not_stand_at_their_segment_are_refused() {
    let with = |jumps: [Jump; 2]| {
        refused(move || {
            let shape = Packed::<(), 0, U7>::shape(2, true, 3);
            Table::<13, 2>::from_bytes(FIRST, ORIGIN, 10, shape, BYTES, jumps)
        })
    };
    let (four, eight) = (jump(4), jump(8));
    assert!(!with([four, eight]));
    assert!(with([eight, four]), "out of order");
    assert!(with([four, four]), "twice");
    for wrong in [
        Jump {
            offset: eight.offset + 1,
            ..eight
        },
        Jump {
            climb: eight.climb - 1,
            ..eight
        },
        Jump {
            exponent: eight.exponent + 1,
            ..eight
        },
        Jump {
            segment: 9,
            ..eight
        },
        Jump {
            segment: 12,
            ..eight
        },
        jump(6),
    ] {
        assert!(with([four, wrong]), "{wrong:?}");
    }
}
