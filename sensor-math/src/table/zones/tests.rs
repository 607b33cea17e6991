extern crate std;
use super::{Zones, lookup_in_zones};
use crate::table::tests::{Ties, polyline};
use crate::table::{Lookup, Native};
use fixed::types::extra::U7;
use std::vec::Vec;

/// The places of the knots, worked out by walking from the first code a step of the current zone at a
/// time until one stands at or beyond the last code, with one more where the last code is a knot.
fn places(codes: (u16, u16, u16, u16), shifts: [u32; 3]) -> Vec<u32> {
    let (first, first_end, second_end, last) = codes;
    let mut places = std::vec![u32::from(first)];
    let mut at = u32::from(first);
    while at <= u32::from(last) {
        let zone = if at < u32::from(first_end) {
            0
        } else if at < u32::from(second_end) {
            1
        } else {
            2
        };
        at += 1 << shifts[zone];
        places.push(at);
    }
    places
}

fn walk<const N: usize, const S1: u32, const S2: u32, const S3: u32>(
    codes: (u16, u16, u16, u16),
    words: [i16; N],
) -> u32 {
    let (first, first_end, second_end, last) = codes;
    type Table<A, const S1: u32, const S2: u32, const S3: u32> = Zones<A, S1, S2, S3, U7, Native>;
    let table =
        Table::<[i16; N], S1, S2, S3>::from_knots(first, first_end, second_end, last, words);
    assert_eq!((table.codes(), table.elements()), (codes, &words));
    assert_eq!(table.bytes(), 2 * N + 8);
    let places = places(codes, [S1, S2, S3]);
    assert_eq!(places.len(), N, "the knots a walk needs");
    let needed = Table::<(), S1, S2, S3>::knots_over(first, first_end, second_end, last);
    assert_eq!(needed, N);
    let other = table.read_through::<&[i16], Native>(&words);
    let knots: Vec<(u32, i32)> = places.into_iter().zip(words.map(i32::from)).collect();
    for code in 0..=u16::MAX {
        let expected = polyline(&knots, code.clamp(first, last), Ties::Up);
        assert_eq!(table.lookup(code), expected, "code {code}");
        let by_value = lookup_in_zones(codes, [S1, S2, S3], &words, code);
        assert_eq!(by_value, expected, "code {code}");
        assert_eq!(other.lookup(code), expected, "code {code}");
    }
    65_536
}

/// Every code of tables with the widest step in each of the three zones, with two zones, with a last
/// code in each zone and on a knot, against the straight lines they stand for.
#[test]
fn every_code_is_on_the_lines_between_the_knots() {
    let cases = walk::<6, 2, 3, 1>((100, 104, 120, 123), [0, 41, 120, -200, 221, 240])
        + walk::<6, 4, 2, 3>((100, 116, 120, 136), [0, 1_001, -7, 30, 55, 81])
        + walk::<7, 1, 2, 4>((100, 104, 112, 129), [9, 8, -3, 77, -16_000, 0, 55])
        + walk::<6, 3, 4, 4>((8, 24, 24, 56), [-5, 6, -99, 1, 70, 71])
        + walk::<4, 3, 4, 2>((8, 32, 48, 30), [-5, 60, -99, 101])
        + walk::<2, 3, 4, 2>((8, 32, 48, 13), [-5, 60])
        + walk::<5, 3, 4, 2>((8, 24, 56, 50), [-5, 60, -99, 101, 7])
        + walk::<4, 0, 1, 0>((65_530, 65_531, 65_533, 65_533), [-5, 60, -99, 101])
        + walk::<4, 14, 15, 15>((0, 16_384, 49_152, u16::MAX), [-9_001, 60, -99, 101]);
    assert_eq!(cases, 9 * 65_536);
}

#[test]
fn zones_that_cannot_be_are_refused() {
    type Table<const N: usize> = Zones<[i16; N], 2, 3, 1, U7>;
    let refused = |codes: (u16, u16, u16, u16)| {
        std::panic::catch_unwind(|| {
            Table::<6>::from_knots(codes.0, codes.1, codes.2, codes.3, [0; 6])
        })
        .is_err()
    };
    assert!(!refused((100, 104, 120, 123)));
    assert!(!refused((100, 100, 100, 100)), "two empty zones");
    assert!(
        refused((100, 96, 120, 123)),
        "the first zone ends before it begins"
    );
    assert!(refused((100, 104, 96, 123)), "so does the second");
    assert!(
        refused((100, 104, 120, 99)),
        "the last code before the first"
    );
    assert!(
        refused((100, 106, 122, 123)),
        "half a step in the first zone"
    );
    assert!(
        refused((100, 104, 116, 118)),
        "half a step in the second zone"
    );
    assert!(refused((100, 104, 120, 124)), "too few knots");
    let apart = std::panic::catch_unwind(|| {
        Table::<6>::from_knots(100, 104, 120, 123, [0, 0, 0, 0, 0, 0x4000])
    });
    assert!(apart.is_err(), "too far apart");
    // a step is at most 2^15 codes, in each zone
    assert!(
        std::panic::catch_unwind(|| Zones::<(), 15, 15, 15, U7>::knots_over(0, 0, 0, 9)).is_ok()
    );
    assert!(
        std::panic::catch_unwind(|| Zones::<(), 16, 1, 1, U7>::knots_over(0, 0, 0, 9)).is_err()
    );
    assert!(
        std::panic::catch_unwind(|| Zones::<(), 1, 16, 1, U7>::knots_over(0, 0, 0, 9)).is_err()
    );
    assert!(
        std::panic::catch_unwind(|| Zones::<(), 1, 1, 16, U7>::knots_over(0, 0, 0, 9)).is_err()
    );
}
