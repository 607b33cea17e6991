//! Ties the three kinds of word together: every operation on every pair of 8-bit values does on integers
//! what it does on intervals and on symbols, and what the exact integers say.

use super::expression::{Z, arena, reset};
use super::interval::{Interval, record};
use super::symbol::{Exact, Symbol};
use controller_core::word::{Accumulator, Narrow, Unsigned, Wide, Word};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Silences the expected panics of debug assertions.
fn quietly<T>(f: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(f)).ok()
}

type I8 = Interval<8, true>;
type U8 = Interval<8, false>;
type I16 = Interval<16, true>;
type U16 = Interval<16, false>;
type S8 = Symbol<8, true>;
type S16 = Symbol<16, true>;
type SU8 = Symbol<8, false>;
type SU16 = Symbol<16, false>;

/// One exact operation on one kind of word: the integer, the interval and the symbol agree with `exact`, and
/// all three object exactly when it does not fit.
struct Checker {
    cases: u64,
}

impl Checker {
    fn exact<I: PartialEq + std::fmt::Debug + TryFrom<i128>, const B: u32, const S: bool>(
        &mut self,
        what: &str,
        exact: i128,
        integer: impl FnOnce() -> I,
        interval: impl Fn() -> Interval<B, S>,
        symbol: impl FnOnce() -> Symbol<B, S>,
    ) {
        self.cases += 1;
        let fits = I::try_from(exact).ok();
        let mut ranged = None;
        let (seen, _) = record(|| ranged = Some(interval()));
        reset(None, BTreeMap::new());
        let symbolic = symbol();
        let obliged = arena(|a| !a.obligations.is_empty());
        match fits {
            Some(value) => {
                assert_eq!(integer(), value, "{what}");
                assert_eq!(
                    ranged,
                    Some(Interval {
                        lo: exact,
                        hi: exact
                    }),
                    "{what}"
                );
                assert!(seen.failures.is_empty(), "{what}: {:?}", seen.failures);
                assert_eq!(symbolic.z(), Z::Const(exact), "{what}");
                assert!(!obliged, "{what}");
            }
            None => {
                assert!(
                    quietly(integer).is_none(),
                    "{what}: the debug assertion sleeps"
                );
                assert!(
                    !seen.failures.is_empty(),
                    "{what}: the interval does not object"
                );
                assert!(obliged, "{what}: the symbol does not object");
            }
        }
    }
}

fn pairs() -> impl Iterator<Item = (i128, i128)> {
    (-128..=127).flat_map(|a| (-128..=127).map(move |b| (a, b)))
}

#[test]
fn exact_operations_on_every_pair() {
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let done = catch_unwind(|| {
        let mut c = Checker { cases: 0 };
        let point = |v: i128| I8 { lo: v, hi: v };
        let byte = |v: i128| U8 { lo: v, hi: v };
        let wide = |v: i128| I16 { lo: v, hi: v };
        let (z8, z16, zu8) = (
            |v: i128| S8::from_z(Z::Const(v)),
            |v: i128| S16::from_z(Z::Const(v)),
            |v: i128| SU8::from_z(Z::Const(v)),
        );
        for (a, b) in pairs() {
            let (x, y) = (a as i8, b as i8);
            c.exact(
                "i8 plus",
                a + b,
                || x.plus(y),
                || point(a).plus(point(b)),
                || z8(a).plus(z8(b)),
            );
            c.exact(
                "i8 minus",
                a - b,
                || x.minus(y),
                || point(a).minus(point(b)),
                || z8(a).minus(z8(b)),
            );
            let (ua, ub) = (a + 128, b + 128);
            let (ux, uy) = (ua as u8, ub as u8);
            c.exact(
                "u8 plus",
                ua + ub,
                || ux.plus(uy),
                || byte(ua).plus(byte(ub)),
                || zu8(ua).plus(zu8(ub)),
            );
            c.exact(
                "u8 minus",
                ua - ub,
                || ux.minus(uy),
                || byte(ua).minus(byte(ub)),
                || zu8(ua).minus(zu8(ub)),
            );
            // A gain times a signal, as the law multiplies.
            c.exact(
                "times",
                ua * b,
                || ux.widen().times(y.widen()),
                || byte(ua).widen().times(point(b).widen()),
                || zu8(ua).widen().times(z8(b).widen()),
            );
        }
        for a in -128..=127_i128 {
            let x = a as i8;
            for by in 0..8 {
                c.exact(
                    "i8 shift_left",
                    a << by,
                    || x.shift_left(by),
                    || point(a).shift_left(by),
                    || z8(a).shift_left(by),
                );
                c.exact(
                    "i8 shift_right",
                    a >> by,
                    || x.shift_right(by),
                    || point(a).shift_right(by),
                    || z8(a).shift_right(by),
                );
            }
            c.exact(
                "widen",
                a,
                || x.widen(),
                || point(a).widen(),
                || z8(a).widen(),
            );
            c.exact(
                "unsigned",
                a,
                || x.unsigned(),
                || point(a).unsigned(),
                || z8(a).unsigned(),
            );
            c.exact(
                "literal",
                a,
                || i8::literal(a as i64),
                || I8::literal(a as i64),
                || S8::literal(a as i64),
            );
            if a >= 0 {
                c.exact(
                    "floor_of",
                    a << 8,
                    || u16::floor_of(x),
                    || U16::floor_of(point(a)),
                    || SU16::floor_of(z8(a)),
                );
                c.exact(
                    "ceiling_of",
                    (a << 8) + 255,
                    || u16::ceiling_of(x),
                    || U16::ceiling_of(point(a)),
                    || SU16::ceiling_of(z8(a)),
                );
                c.exact(
                    "exactly",
                    (a << 8) + 128,
                    || u16::exactly(x),
                    || U16::exactly(point(a)),
                    || SU16::exactly(z8(a)),
                );
            }
        }
        for a in -32_768..=32_767_i128 {
            let x = a as i16;
            c.exact(
                "narrow",
                a,
                || x.narrow(),
                || wide(a).narrow(),
                || z16(a).narrow(),
            );
            c.exact(
                "top",
                a >> 8,
                || Wide::top(x),
                || wide(a).top(),
                || z16(a).top(),
            );
        }
        for a in 0..=65_535_i128 {
            let (x, interval, symbol) = (a as u16, U16 { lo: a, hi: a }, SU16::from_z(Z::Const(a)));
            c.exact(
                "accumulator top",
                a >> 8,
                || Accumulator::top(x),
                || interval.top(),
                || symbol.top(),
            );
            for by in 1..8 {
                c.exact(
                    "accumulator descale",
                    a >> by,
                    || Accumulator::descale(x, by),
                    || interval.descale(by),
                    || symbol.descale(by),
                );
            }
        }
        c.cases
    });
    std::panic::set_hook(hook);
    // 5 * 2^16 pairs, 256 * (8 + 8 + 3) + 128 * 3 bytes, 2 * 2^16 wide words, 8 * 2^16 accumulators.
    assert_eq!(
        done.ok(),
        Some(5 * 65_536 + 256 * 19 + 128 * 3 + 2 * 65_536 + 8 * 65_536)
    );
}

#[test]
fn clipping_operations_and_comparisons_on_every_pair() {
    let mut cases = 0_u64;
    for (a, b) in pairs() {
        let (x, y) = (a as i8, b as i8);
        reset(None, BTreeMap::new());
        let sum = (a + b).clamp(-128, 127);
        assert_eq!(i128::from(x.saturating_plus(y)), sum);
        assert_eq!(
            I8 { lo: a, hi: a }.saturating_plus(I8 { lo: b, hi: b }),
            I8 { lo: sum, hi: sum }
        );
        assert_eq!(
            S8::from_z(Z::Const(a))
                .saturating_plus(S8::from_z(Z::Const(b)))
                .z(),
            Z::Const(sum)
        );
        let sum = (a + b + 256).clamp(0, 255);
        assert_eq!(i128::from((x as i16 + 128) as u8).min(255), a + 128);
        assert_eq!(
            i128::from(((a + 128) as u8).saturating_plus((b + 128) as u8)),
            sum
        );
        assert_eq!(x.below(y), a < b);
        assert_eq!(I8 { lo: a, hi: a }.below(I8 { lo: b, hi: b }), a < b);
        assert_eq!(
            S8::from_z(Z::Const(a)).below(S8::from_z(Z::Const(b))),
            a < b
        );
        cases += 1;
        // Clamps against a few limits either side.
        for (lo, hi) in [
            (-128, 127),
            (0, 0),
            (-64, 63),
            (0, 127),
            (b.min(17), b.max(17)),
        ] {
            let want = a.clamp(lo, hi);
            assert_eq!(i128::from(Word::clamp(x, lo as i8, hi as i8)), want);
            assert_eq!(
                Word::clamp(I8 { lo: a, hi: a }, I8 { lo, hi: lo }, I8 { lo: hi, hi }),
                I8 { lo: want, hi: want }
            );
            let clamped = Word::clamp(
                S8::from_z(Z::Const(a)),
                S8::from_z(Z::Const(lo)),
                S8::from_z(Z::Const(hi)),
            );
            assert_eq!(clamped.z(), Z::Const(want));
            // On an unsigned byte the same limits 128 higher.
            let inside = (lo..=hi).contains(&a);
            assert_eq!(x.within(lo as i8, hi as i8), inside);
            assert_eq!(
                ((a + 128) as u8).within((lo + 128) as u8, (hi + 128) as u8),
                inside
            );
            assert_eq!(
                I8 { lo: a, hi: a }.within(I8 { lo, hi: lo }, I8 { lo: hi, hi }),
                inside
            );
            let [sa, slo, shi] = [a, lo, hi].map(|v| S8::from_z(Z::Const(v)));
            assert_eq!(sa.within(slo, shi), inside);
        }
    }
    assert_eq!(cases, 65_536);
}

/// `descale` and `upscale` of a signed sum and `offset` of an accumulator answer with an option: they agree on which,
/// and `turned` goes beyond every limit where `offset` has none.
#[test]
fn optional_operations() {
    let mut cases = 0_u64;
    for a in -32_768..=32_767_i128 {
        for by in 1..=8 {
            reset(None, BTreeMap::new());
            let want = (a >= 0 && a < 1 << (7 + by)).then_some(a >> by);
            assert_eq!(
                Wide::descale(a as i16, by).map(i128::from),
                want,
                "{a} {by}"
            );
            assert_eq!(I16 { lo: a, hi: a }.descale(by).map(|i| i.lo), want);
            assert_eq!(
                S16::from_z(Z::Const(a)).descale(by).map(Exact::z),
                want.map(Z::Const)
            );
            let want = i16::try_from(a << by).ok().map(i128::from);
            assert_eq!(
                Wide::upscale(a as i16, by).map(i128::from),
                want,
                "{a} {by}"
            );
            assert_eq!(I16 { lo: a, hi: a }.upscale(by).map(|i| i.lo), want);
            assert_eq!(
                S16::from_z(Z::Const(a)).upscale(by).map(Exact::z),
                want.map(Z::Const)
            );
            cases += 2;
        }
    }
    // Every upper half of an accumulator with every upper half of an offset, at corners of the lower halves.
    for top in 0..=127_i128 {
        for by_top in -128..=127_i128 {
            for low in [0, 1, 127, 128, 255] {
                for by_low in [0, 1, 127, 128, 255] {
                    let (a, by) = (top << 8 | low, (by_top << 8) + by_low);
                    reset(None, BTreeMap::new());
                    let want = (a + by >= 0).then_some(a + by);
                    assert_eq!(
                        Accumulator::offset(a as u16, by as i16).map(i128::from),
                        want,
                        "{a} {by}"
                    );
                    assert_eq!(
                        U16 { lo: a, hi: a }
                            .offset(I16 { lo: by, hi: by })
                            .map(|i| i.lo),
                        want
                    );
                    let symbol = SU16::from_z(Z::Const(a)).offset(S16::from_z(Z::Const(by)));
                    assert_eq!(symbol.map(Exact::z), want.map(Z::Const));
                    let turned = (a + by).rem_euclid(1 << 16);
                    assert_eq!(want.is_none(), turned >= 1 << 15 && by < 0);
                    assert_eq!(i128::from(Accumulator::turned(a as u16, by as i16)), turned);
                    assert_eq!(
                        U16 { lo: a, hi: a }.turned(I16 { lo: by, hi: by }),
                        U16 {
                            lo: turned,
                            hi: turned
                        }
                    );
                    let symbol = SU16::from_z(Z::Const(a)).turned(S16::from_z(Z::Const(by)));
                    assert_eq!(symbol.z(), Z::Const(turned));
                    for (lo, hi) in [(0, 127), (0, 0), (25, 100), (64, 64), (127, 127)] {
                        let want = (a + by).clamp(lo << 8, hi << 8 | 255);
                        for whole in [false, true] {
                            let got = (a as u16).advanced(by as i16, lo as i8, hi as i8, whole);
                            assert_eq!(i128::from(got), want, "{a} {by} {lo} {hi}");
                        }
                        let got = U16 { lo: a, hi: a }.advanced(
                            I16 { lo: by, hi: by },
                            I8 { lo, hi: lo },
                            I8 { lo: hi, hi },
                            true,
                        );
                        assert_eq!(got, U16 { lo: want, hi: want });
                        let [by, lo, hi] = [by, lo, hi].map(Z::Const);
                        let symbol = SU16::from_z(Z::Const(a)).advanced(
                            S16::from_z(by),
                            S8::from_z(lo),
                            S8::from_z(hi),
                            true,
                        );
                        assert_eq!(symbol.z(), Z::Const(want));
                    }
                    cases += 1;
                }
            }
        }
    }
    assert_eq!(cases, 65_536 * 16 + 128 * 256 * 25);
}

/// Every byte between every pair of limits.
#[test]
fn a_confined_word_is_a_clamped_one() {
    let mut cases = 0_u64;
    for lo in i8::MIN..=i8::MAX {
        for hi in lo..=i8::MAX {
            for x in i8::MIN..=i8::MAX {
                assert_eq!(x.confined(lo, hi), Ord::clamp(x, lo, hi));
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 256 * 257 / 2 * 256);
}

/// An interval holds every result of its members: all intervals with ends on a grid, all members.
#[test]
fn intervals_hold_their_members() {
    let ends: Vec<i128> = (-128..=127).step_by(15).collect();
    let mut cases = 0_u64;
    for &al in &ends {
        for &ah in ends.iter().filter(|&&e| e >= al) {
            for &bl in &ends {
                for &bh in ends.iter().filter(|&&e| e >= bl) {
                    let (a, b) = (I8 { lo: al, hi: ah }, I8 { lo: bl, hi: bh });
                    let (sum, clip) = (a.widen().plus(b.widen()), a.saturating_plus(b));
                    let (difference, product) =
                        (a.widen().minus(b.widen()), a.widen().times(b.widen()));
                    for x in [al, (al + ah) / 2, ah] {
                        for y in [bl, (bl + bh) / 2, bh] {
                            assert!((sum.lo..=sum.hi).contains(&(x + y)));
                            assert!((clip.lo..=clip.hi).contains(&(x + y).clamp(-128, 127)));
                            assert!((difference.lo..=difference.hi).contains(&(x - y)));
                            assert!((product.lo..=product.hi).contains(&(x * y)));
                            cases += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(cases, 9 * 171 * 171);
}
