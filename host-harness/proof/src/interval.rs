//! The interval word: the same source run on ranges of values.
//!
//! Every exact operation whose result could leave its type, and every shift or narrowing that could lose
//! a bit, is recorded with its place in the source. A run that records nothing has proven that no
//! operation wraps for any value in the ranges it was given.

use super::fork::decide;
use controller_core::word::{Accumulator, Model, Narrow, Unsigned, Wide, Word};
use std::cell::RefCell;
use std::panic::Location;

/// What a run recorded.
#[derive(Clone, Debug, Default)]
pub struct Record {
    /// Exact operations checked.
    pub operations: u64,
    /// Operations that could not be shown exact: place and range.
    pub failures: Vec<String>,
}

thread_local!(static RECORD: RefCell<Record> = RefCell::new(Record::default()));

/// Runs `f` down every path and returns what it recorded, and the number of paths.
pub fn record(f: impl FnMut()) -> (Record, usize) {
    RECORD.with(|r| *r.borrow_mut() = Record::default());
    let paths = super::fork::explore(f);
    let mut record = RECORD.with(RefCell::take);
    record.failures.sort();
    record.failures.dedup();
    (record, paths)
}

/// All values from `lo` to `hi` of a word of `BITS` bits.
#[derive(Clone, Copy, Debug)]
pub struct Interval<const BITS: u32, const SIGNED: bool> {
    /// The least value.
    pub lo: i128,
    /// The greatest value.
    pub hi: i128,
}

impl<const BITS: u32, const SIGNED: bool> Interval<BITS, SIGNED> {
    /// The least value of the type.
    pub const MIN: i128 = if SIGNED { -(1 << (BITS - 1)) } else { 0 };
    /// The greatest value of the type.
    pub const MAX: i128 = if SIGNED {
        (1 << (BITS - 1)) - 1
    } else {
        (1 << BITS) - 1
    };

    /// The values from `lo` to `hi`, which must fit the type.
    #[track_caller]
    #[must_use]
    pub fn new(lo: i128, hi: i128) -> Self {
        assert!(
            lo <= hi && lo >= Self::MIN && hi <= Self::MAX,
            "{lo}..={hi} is no range of this word"
        );
        Self { lo, hi }
    }

    /// Every value of the type.
    #[must_use]
    pub fn any() -> Self {
        Self {
            lo: Self::MIN,
            hi: Self::MAX,
        }
    }

    #[track_caller]
    fn exact(what: &str, lo: i128, hi: i128) -> Self {
        let fits = lo >= Self::MIN && hi <= Self::MAX;
        RECORD.with(|r| {
            let mut r = r.borrow_mut();
            r.operations += 1;
            if !fits {
                let at = Location::caller();
                let sign = if SIGNED { 'i' } else { 'u' };
                r.failures.push(format!(
                    "{}:{} {what}: {lo}..={hi} leaves {sign}{BITS}",
                    at.file(),
                    at.line()
                ));
            }
        });
        Self {
            lo: lo.clamp(Self::MIN, Self::MAX),
            hi: hi.clamp(Self::MIN, Self::MAX),
        }
    }
}

impl<const BITS: u32, const SIGNED: bool> Model for Interval<BITS, SIGNED> {}

// Like every other comparison it goes both ways where the values do not decide it.
impl<const BITS: u32, const SIGNED: bool> PartialEq for Interval<BITS, SIGNED> {
    fn eq(&self, other: &Self) -> bool {
        if self.lo > other.hi || other.lo > self.hi {
            false
        } else if self.lo == self.hi && other.lo == other.hi {
            true
        } else {
            decide()
        }
    }
}
impl<const BITS: u32, const SIGNED: bool> Eq for Interval<BITS, SIGNED> {}

impl<const BITS: u32, const SIGNED: bool> Word for Interval<BITS, SIGNED> {
    #[track_caller]
    fn literal(value: i64) -> Self {
        Self::exact("literal", value.into(), value.into())
    }
    #[track_caller]
    fn plus(self, other: Self) -> Self {
        Self::exact("plus", self.lo + other.lo, self.hi + other.hi)
    }
    #[track_caller]
    fn minus(self, other: Self) -> Self {
        Self::exact("minus", self.lo - other.hi, self.hi - other.lo)
    }
    fn saturating_plus(self, other: Self) -> Self {
        let limit = |v: i128| v.clamp(Self::MIN, Self::MAX);
        Self {
            lo: limit(self.lo + other.lo),
            hi: limit(self.hi + other.hi),
        }
    }
    #[track_caller]
    fn shift_left(self, by: u32) -> Self {
        Self::exact("shift_left", self.lo << by, self.hi << by)
    }
    fn shift_right(self, by: u32) -> Self {
        Self {
            lo: self.lo >> by,
            hi: self.hi >> by,
        }
    }
    fn below(self, other: Self) -> bool {
        if self.hi < other.lo {
            true
        } else if self.lo >= other.hi {
            false
        } else {
            decide()
        }
    }
    fn within(self, lo: Self, hi: Self) -> bool {
        if self.lo >= lo.hi && self.hi <= hi.lo {
            true
        } else if self.lo.max(lo.lo) > self.hi.min(hi.hi) {
            false
        } else {
            decide()
        }
    }
    fn clamp(self, lo: Self, hi: Self) -> Self {
        Self {
            lo: self.lo.max(lo.lo).min(hi.lo),
            hi: self.hi.max(lo.hi).min(hi.hi),
        }
    }
    fn confined(self, lo: Self, hi: Self) -> Self {
        self.clamp(lo, hi)
    }
}

macro_rules! width {
    ($n:literal, $w:literal) => {
        impl Narrow for Interval<$n, true> {
            const BITS: u32 = $n;
            type Wide = Interval<$w, true>;
            type Unsigned = Interval<$n, false>;
            type Accumulator = Interval<$w, false>;
            fn widen(self) -> Interval<$w, true> {
                Interval {
                    lo: self.lo,
                    hi: self.hi,
                }
            }
            #[track_caller]
            fn unsigned(self) -> Interval<$n, false> {
                Interval::<$n, false>::exact("unsigned", self.lo, self.hi)
            }
        }

        impl Wide for Interval<$w, true> {
            type Narrow = Interval<$n, true>;
            #[track_caller]
            fn times(self, other: Self) -> Self {
                let corners = [
                    self.lo * other.lo,
                    self.lo * other.hi,
                    self.hi * other.lo,
                    self.hi * other.hi,
                ];
                let lo = corners.iter().copied().min().unwrap_or(0);
                let hi = corners.iter().copied().max().unwrap_or(0);
                Self::exact("times", lo, hi)
            }
            #[track_caller]
            fn narrow(self) -> Interval<$n, true> {
                Interval::<$n, true>::exact("narrow", self.lo, self.hi)
            }
            fn top(self) -> Interval<$n, true> {
                Interval {
                    lo: self.lo >> $n,
                    hi: self.hi >> $n,
                }
            }
            #[track_caller]
            fn descale(self, by: u32) -> Option<Interval<$n, true>> {
                let (least, greatest) = (0, (1_i128 << ($n - 1 + by)) - 1);
                let (lo, hi) = (self.lo.max(least), self.hi.min(greatest));
                if lo > hi {
                    return None;
                }
                let inside = (self.lo >= least && self.hi <= greatest) || decide();
                inside.then(|| Interval::<$n, true>::exact("descale", lo >> by, hi >> by))
            }
            #[track_caller]
            fn upscale(self, by: u32) -> Option<Self> {
                let (least, greatest) = (Self::MIN >> by, Self::MAX >> by);
                let (lo, hi) = (self.lo.max(least), self.hi.min(greatest));
                if lo > hi {
                    return None;
                }
                let inside = (self.lo >= least && self.hi <= greatest) || decide();
                inside.then(|| Self::exact("upscale", lo << by, hi << by))
            }
        }

        impl Unsigned for Interval<$n, false> {
            type Narrow = Interval<$n, true>;
            type Wide = Interval<$w, true>;
            fn widen(self) -> Interval<$w, true> {
                Interval {
                    lo: self.lo,
                    hi: self.hi,
                }
            }
        }

        impl Accumulator for Interval<$w, false> {
            type Narrow = Interval<$n, true>;
            #[track_caller]
            fn floor_of(top: Interval<$n, true>) -> Self {
                Self::exact("floor_of", top.lo << $n, top.hi << $n)
            }
            #[track_caller]
            fn ceiling_of(top: Interval<$n, true>) -> Self {
                Self::exact(
                    "ceiling_of",
                    (top.lo << $n) + (1 << $n) - 1,
                    (top.hi << $n) + (1 << $n) - 1,
                )
            }
            #[track_caller]
            fn exactly(value: Interval<$n, true>) -> Self {
                Self::exact(
                    "exactly",
                    (value.lo << $n) + (1 << ($n - 1)),
                    (value.hi << $n) + (1 << ($n - 1)),
                )
            }
            fn top(self) -> Interval<$n, false> {
                Interval {
                    lo: self.lo >> $n,
                    hi: self.hi >> $n,
                }
            }
            #[track_caller]
            fn descale(self, by: u32) -> Interval<$w, true> {
                Interval::<$w, true>::exact("descale", self.lo >> by, self.hi >> by)
            }
            #[track_caller]
            fn turned(self, by: Interval<$w, true>) -> Self {
                // Above 2^(2n-1) a positive sum could wrap as well.
                Interval::<$w, true>::exact("turned from", self.lo, self.hi);
                let (lo, hi) = (self.lo + by.lo, self.hi + by.hi);
                if lo >= 0 || (hi >= 0 && decide()) {
                    Self::exact("turned", lo.max(0), hi)
                } else {
                    Self::exact("turned", lo + (1 << $w), hi.min(-1) + (1 << $w))
                }
            }
            #[track_caller]
            fn offset(self, by: Interval<$w, true>) -> Option<Self> {
                // The implementation on integers reads the sign of a wrapped sum; that is right only for an
                // accumulator below 2^(2n-1).
                Interval::<$w, true>::exact("offset of", self.lo, self.hi);
                let (lo, hi) = (self.lo + by.lo, self.hi + by.hi);
                if hi < 0 {
                    return None;
                }
                let inside = lo >= 0 || decide();
                inside.then(|| Self::exact("offset", lo.max(0), hi))
            }
            #[track_caller]
            fn advanced(
                self,
                by: Interval<$w, true>,
                lo: Interval<$n, true>,
                hi: Interval<$n, true>,
                _: bool,
            ) -> Self {
                Interval::<$w, true>::exact("advanced from", self.lo, self.hi);
                let limit = |sum: i128, lo: i128, hi: i128| {
                    sum.max(lo << $n).min((hi << $n) + (1 << $n) - 1)
                };
                Self {
                    lo: limit(self.lo + by.lo, lo.lo, hi.lo),
                    hi: limit(self.hi + by.hi, lo.hi, hi.hi),
                }
            }
        }
    };
}
width!(8, 16);
width!(16, 32);
width!(32, 64);
