use super::{Multiply, Narrow, Native, domain_max, domain_min, into_domain};

fn check<N: Narrow>(quarter: i64) {
    assert_eq!(domain_min::<N>(), N::literal(-quarter));
    assert_eq!(domain_max::<N>(), N::literal(quarter - 1));
    for (given, nearest) in [
        (-quarter - 1, -quarter),
        (-quarter, -quarter),
        (-quarter + 1, -quarter + 1),
        (0, 0),
        (quarter - 2, quarter - 2),
        (quarter - 1, quarter - 1),
        (quarter, quarter - 1),
        (2 * quarter - 1, quarter - 1),
        (-2 * quarter, -quarter),
    ] {
        assert_eq!(
            into_domain(N::literal(given)),
            N::literal(nearest),
            "{given}"
        );
    }
}

/// A quarter of the word either way, so that a difference of two has room for a change of sign.
#[test]
fn the_domain_is_a_quarter_of_the_word() {
    check::<i8>(64);
    check::<i16>(16_384);
    check::<i32>(1 << 30);
}

/// Whole words are compared where an address holds one.
#[test]
fn comparisons_suit_the_machine() {
    let whole = |bits: u32| usize::BITS >= bits;
    assert_eq!(<Native as Multiply<i8>>::WHOLE, whole(16));
    assert_eq!(<Native as Multiply<i16>>::WHOLE, whole(32));
    assert_eq!(<Native as Multiply<i32>>::WHOLE, whole(64));
}
