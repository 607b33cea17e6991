//! The symbolic word: the same source run on unknowns.
//!
//! A symbol stands for the exact integer an operation would give. Wherever its range does not already show
//! that the integer fits the word, an obligation is recorded that it does; so the integer reading is sound
//! once all obligations are proven. Comparisons that ranges cannot decide fork the path.

use super::expression::{Truth, Z, assume, oblige_operation};
use super::fork::decide;
use controller_core::gain::Mantissas;
use controller_core::law::pid_smooth::SmoothState;
use controller_core::law::{Action, Integrator, PidState, Settings};
use controller_core::word::{Accumulator, Model, Narrow, Unsigned, Wide, Word};
use std::panic::Location;

/// An unknown word of `BITS` bits.
#[derive(Clone, Copy, Debug)]
pub struct Symbol<const BITS: u32, const SIGNED: bool>(pub Z);

/// A word whose exact integer can be told and made: symbols, and the machine's integers in a replay.
pub trait Exact: Word {
    /// Its integer.
    fn z(self) -> Z;
    /// The word of an integer that fits it.
    fn from_z(z: Z) -> Self;
}

#[inline(never)]
fn ask(truth: Truth) -> bool {
    match truth {
        Truth::Known(known) => known,
        Truth::Node(_) => {
            let answer = decide();
            assume(if answer { truth } else { !truth });
            answer
        }
    }
}

impl<const BITS: u32, const SIGNED: bool> Symbol<BITS, SIGNED> {
    const MIN: i128 = if SIGNED { -(1 << (BITS - 1)) } else { 0 };
    const MAX: i128 = if SIGNED {
        (1 << (BITS - 1)) - 1
    } else {
        (1 << BITS) - 1
    };

    #[inline(never)]
    #[track_caller]
    fn exact(what: &str, z: Z) -> Self {
        let (lo, hi) = z.range();
        if lo < Self::MIN || hi > Self::MAX {
            let at = Location::caller();
            let sign = if SIGNED { 'i' } else { 'u' };
            let fits = z.within(Self::MIN, Self::MAX);
            oblige_operation(
                format!("{}:{} {what} fits {sign}{BITS}", at.file(), at.line()),
                fits,
            );
            assume(Z::Const(Self::MIN).at_most(z));
            assume(z.at_most(Self::MAX));
        }
        Self(z)
    }
}

impl<const BITS: u32, const SIGNED: bool> Exact for Symbol<BITS, SIGNED> {
    fn z(self) -> Z {
        self.0
    }
    fn from_z(z: Z) -> Self {
        let (lo, hi) = z.range();
        assert!(
            lo >= Self::MIN && hi <= Self::MAX,
            "{lo}..={hi} does not fit {BITS} bits"
        );
        Self(z)
    }
}

impl<const BITS: u32, const SIGNED: bool> Model for Symbol<BITS, SIGNED> {}

// Like every other comparison it forks the path: what stands behind `==` on words is asked about too.
impl<const BITS: u32, const SIGNED: bool> PartialEq for Symbol<BITS, SIGNED> {
    fn eq(&self, other: &Self) -> bool {
        ask(self.0.same(other.0))
    }
}
impl<const BITS: u32, const SIGNED: bool> Eq for Symbol<BITS, SIGNED> {}

impl<const BITS: u32, const SIGNED: bool> Word for Symbol<BITS, SIGNED> {
    #[track_caller]
    fn literal(value: i64) -> Self {
        Self::exact("literal", Z::Const(value.into()))
    }
    #[track_caller]
    fn plus(self, other: Self) -> Self {
        Self::exact("plus", self.0 + other.0)
    }
    #[track_caller]
    fn minus(self, other: Self) -> Self {
        Self::exact("minus", self.0 - other.0)
    }
    fn saturating_plus(self, other: Self) -> Self {
        Self((self.0 + other.0).clamp(Self::MIN, Self::MAX))
    }
    #[track_caller]
    fn shift_left(self, by: u32) -> Self {
        Self::exact("shift_left", self.0 * (1 << by))
    }
    fn shift_right(self, by: u32) -> Self {
        Self(self.0 >> by)
    }
    fn below(self, other: Self) -> bool {
        ask(self.0.less(other.0))
    }
    fn within(self, lo: Self, hi: Self) -> bool {
        ask(self.0.within(lo.0, hi.0))
    }
    fn clamp(self, lo: Self, hi: Self) -> Self {
        Self(self.0.clamp(lo.0, hi.0))
    }
    fn confined(self, lo: Self, hi: Self) -> Self {
        self.clamp(lo, hi)
    }
}

macro_rules! width {
    ($n:literal, $w:literal) => {
        impl Narrow for Symbol<$n, true> {
            const BITS: u32 = $n;
            type Wide = Symbol<$w, true>;
            type Unsigned = Symbol<$n, false>;
            type Accumulator = Symbol<$w, false>;
            fn widen(self) -> Symbol<$w, true> {
                Symbol(self.0)
            }
            #[track_caller]
            fn unsigned(self) -> Symbol<$n, false> {
                Symbol::<$n, false>::exact("unsigned", self.0)
            }
        }

        impl Wide for Symbol<$w, true> {
            type Narrow = Symbol<$n, true>;
            #[track_caller]
            fn times(self, other: Self) -> Self {
                Self::exact("times", self.0.times(other.0))
            }
            #[track_caller]
            fn narrow(self) -> Symbol<$n, true> {
                Symbol::<$n, true>::exact("narrow", self.0)
            }
            fn top(self) -> Symbol<$n, true> {
                Symbol(self.0 >> $n)
            }
            #[track_caller]
            fn descale(self, by: u32) -> Option<Symbol<$n, true>> {
                let greatest = (1_i128 << ($n - 1 + by)) - 1;
                let inside = ask(Z::Const(0).at_most(self.0)) && ask(self.0.at_most(greatest));
                inside.then(|| Symbol::<$n, true>::exact("descale", self.0 >> by))
            }
            #[track_caller]
            fn upscale(self, by: u32) -> Option<Self> {
                let inside = ask(Z::Const(Self::MIN >> by).at_most(self.0))
                    && ask(self.0.at_most(Self::MAX >> by));
                inside.then(|| Self::exact("upscale", self.0 * (1 << by)))
            }
        }

        impl Unsigned for Symbol<$n, false> {
            type Narrow = Symbol<$n, true>;
            type Wide = Symbol<$w, true>;
            fn widen(self) -> Symbol<$w, true> {
                Symbol(self.0)
            }
        }

        impl Accumulator for Symbol<$w, false> {
            type Narrow = Symbol<$n, true>;
            #[track_caller]
            fn floor_of(top: Symbol<$n, true>) -> Self {
                Self::exact("floor_of", top.0 * (1 << $n))
            }
            #[track_caller]
            fn ceiling_of(top: Symbol<$n, true>) -> Self {
                Self::exact("ceiling_of", top.0 * (1 << $n) + ((1 << $n) - 1))
            }
            #[track_caller]
            fn exactly(value: Symbol<$n, true>) -> Self {
                Self::exact("exactly", value.0 * (1 << $n) + (1 << ($n - 1)))
            }
            fn top(self) -> Symbol<$n, false> {
                Symbol(self.0 >> $n)
            }
            #[track_caller]
            fn descale(self, by: u32) -> Symbol<$w, true> {
                Symbol::<$w, true>::exact("descale", self.0 >> by)
            }
            #[track_caller]
            fn turned(self, by: Symbol<$w, true>) -> Self {
                // Above 2^(2n-1) a positive sum could wrap as well.
                Symbol::<$w, true>::exact("turned from", self.0);
                let sum = self.0 + by.0;
                if ask(Z::Const(0).at_most(sum)) {
                    Self::exact("turned", sum)
                } else {
                    Self::exact("turned", sum + (1_i128 << $w))
                }
            }
            #[track_caller]
            fn offset(self, by: Symbol<$w, true>) -> Option<Self> {
                // The implementation on integers reads the sign of a wrapped sum; that is right only for an
                // accumulator below 2^(2n-1).
                Symbol::<$w, true>::exact("offset of", self.0);
                let sum = self.0 + by.0;
                ask(Z::Const(0).at_most(sum)).then(|| Self::exact("offset", sum))
            }
            #[track_caller]
            fn advanced(
                self,
                by: Symbol<$w, true>,
                lo: Symbol<$n, true>,
                hi: Symbol<$n, true>,
                _: bool,
            ) -> Self {
                Symbol::<$w, true>::exact("advanced from", self.0);
                let (floor, ceiling) = (Self::floor_of(lo), Self::ceiling_of(hi));
                Self((self.0 + by.0).clamp(floor.0, ceiling.0))
            }
        }
    };
}

macro_rules! machine {
    ($($word:ty),*) => {$(
        impl Exact for $word {
            fn z(self) -> Z {
                Z::Const(self.into())
            }
            fn from_z(z: Z) -> Self {
                let value = match z {
                    Z::Const(c) => c,
                    Z::Node(_) => panic!("an unknown met a machine word"),
                };
                match value.try_into() {
                    Ok(word) => word,
                    Err(_) => panic!("{value} does not fit this word"),
                }
            }
        }
    )*};
}

width!(8, 16);
width!(16, 32);
width!(32, 64);
machine!(i8, i16, i32, i64, u8, u16, u32, u64);

/// A width the properties can be stated for: the symbols of a proof and the integers of a replay.
pub trait Proof: Narrow<Wide: Exact, Unsigned: Exact, Accumulator: Exact> + Exact {
    /// Settings of these gains and limits: assumed for symbols, checked for integers.
    fn settings<const SP: u32>(
        gains: Mantissas<Self>,
        lo: Self,
        hi: Self,
        action: Action,
    ) -> Settings<Self, SP>;
    /// An integrator with this word, which satisfies its invariant.
    fn integrator<const SP: u32>(
        settings: &Settings<Self, SP>,
        word: Self::Accumulator,
    ) -> Integrator<Self>;
    /// A PID state with these words, which satisfy their invariants.
    fn pid_state<const SP: u32, const K: u32>(
        settings: &Settings<Self, SP>,
        word: Self::Accumulator,
        filtered: Self::Wide,
    ) -> PidState<Self, K>;
    /// A state of the PID with a filter of any time constant, from words which satisfy their invariants.
    fn smooth_state<const SP: u32>(
        settings: &Settings<Self, SP>,
        word: Self::Accumulator,
        filtered: Self::Wide,
    ) -> SmoothState<Self>;
}

macro_rules! proof {
    ($($n:literal $machine:ty),*) => {$(
        impl Proof for Symbol<$n, true> {
            fn settings<const SP: u32>(gains: Mantissas<Self>, lo: Self, hi: Self, action: Action) -> Settings<Self, SP> {
                Settings::assumed(gains, lo, hi, action)
            }
            fn integrator<const SP: u32>(_: &Settings<Self, SP>, word: Self::Accumulator) -> Integrator<Self> {
                Integrator::assumed(word)
            }
            fn pid_state<const SP: u32, const K: u32>(_: &Settings<Self, SP>, word: Self::Accumulator, filtered: Self::Wide) -> PidState<Self, K> {
                PidState::assumed(Integrator::assumed(word), filtered)
            }
            fn smooth_state<const SP: u32>(_: &Settings<Self, SP>, word: Self::Accumulator, filtered: Self::Wide) -> SmoothState<Self> {
                SmoothState::assumed(Integrator::assumed(word), filtered)
            }
        }
        impl Proof for $machine {
            fn settings<const SP: u32>(gains: Mantissas<Self>, lo: Self, hi: Self, action: Action) -> Settings<Self, SP> {
                match Settings::<$machine, SP>::new(gains, lo, hi, action) {
                    Ok(settings) => settings,
                    Err(error) => panic!("a replay needs valid settings: {error}"),
                }
            }
            fn integrator<const SP: u32>(settings: &Settings<Self, SP>, word: Self::Accumulator) -> Integrator<Self> {
                Integrator::from_word(settings, word)
            }
            fn pid_state<const SP: u32, const K: u32>(settings: &Settings<Self, SP>, word: Self::Accumulator, filtered: Self::Wide) -> PidState<Self, K> {
                PidState::<_, K>::restored(settings, word, filtered)
            }
            fn smooth_state<const SP: u32>(settings: &Settings<Self, SP>, word: Self::Accumulator, filtered: Self::Wide) -> SmoothState<Self> {
                SmoothState::restored(settings, word, filtered)
            }
        }
    )*};
}
proof!(8 i8, 16 i16, 32 i32);
