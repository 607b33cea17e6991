//! What is claimed about the law, each claim stated once and used in three ways: on symbols it becomes
//! questions for a solver, on integers it replays a solver's counterexample, and with wrong code in place
//! of the law it is a control that must fail.
//!
//! The statements are generic over the width, the scale `SP` and the kind of comparison, because they call
//! the shipped functions, which are.

use super::expression::{Truth, Z, assume, claim, unknown};
use super::symbol::{Exact, Proof};
use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, PiState, Settings, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::{Multiply, Narrow, advance, confine};

/// Compares upper halves, as 8- and 16-bit machines do.
#[derive(Clone, Copy, Debug)]
pub struct Halves;
impl<N: Narrow> Multiply<N> for Halves {
    const WHOLE: bool = false;
}

/// Compares whole words, as 32-bit machines do.
#[derive(Clone, Copy, Debug)]
pub struct Whole;
impl<N: Narrow> Multiply<N> for Whole {
    const WHOLE: bool = true;
}

/// A loop of unknown gains and limits, its word width and scale known.
pub struct Loop<N: Proof, const SP: u32> {
    /// For the shipped functions.
    pub settings: Settings<N, SP>,
    /// `kp`.
    pub kp: Z,
    /// `ki`.
    pub ki: Z,
    /// `kd`.
    pub kd: Z,
    /// Lower limit.
    pub lo: Z,
    /// Upper limit.
    pub hi: Z,
    /// Direct or reverse.
    pub action: Action,
}

/// `n` of a width.
fn bits<N: Narrow>() -> u32 {
    N::BITS
}

/// `2^(n-1) - 1`.
pub fn one<N: Narrow>() -> i128 {
    (1 << (bits::<N>() - 1)) - 1
}

/// The bound of `kp + kd`, from its derivation, not from the crate.
pub fn gain_sum_max<N: Narrow, const SP: u32>() -> i128 {
    let n = bits::<N>();
    ((1_i128 << (2 * n - 1)) - (1 << (n - 1 + SP))) / one::<N>()
}

impl<N: Proof, const SP: u32> Loop<N, SP> {
    /// Any gains that the constructors accept, any limits that they accept.
    pub fn any(action: Action) -> Self {
        Self::named(action, "")
    }

    /// Any others: a second loop beside the first, its unknowns with a 2 after their names.
    pub fn second(action: Action) -> Self {
        Self::named(action, "2")
    }

    fn named(action: Action, suffix: &str) -> Self {
        let bound = gain_sum_max::<N, SP>();
        let top = (1_i128 << bits::<N>()) - 1;
        let any = |name: &str, greatest| unknown(&format!("{name}{suffix}"), 0, greatest);
        let kp = any("kp", top.min(bound));
        let ki = any("ki", top);
        let kd = any("kd", top.min(bound));
        let (lo, hi) = (any("lo", one::<N>()), any("hi", one::<N>()));
        assume((kp + kd).at_most(bound));
        assume(lo.less(hi));
        let gains = Mantissas {
            kp: N::Unsigned::from_z(kp),
            ki: N::Unsigned::from_z(ki),
            kd: N::Unsigned::from_z(kd),
        };
        let settings = N::settings::<SP>(gains, N::from_z(lo), N::from_z(hi), action);
        Self {
            settings,
            kp,
            ki,
            kd,
            lo,
            hi,
            action,
        }
    }

    /// Any integrator word that satisfies the invariant.
    pub fn integral(&self, name: &str) -> Z {
        let i = unknown(name, 0, (1 << (2 * bits::<N>() - 1)) - 1);
        assume(self.invariant(i));
        i
    }

    /// The invariant of the integrator: the upper half within the limits.
    pub fn invariant(&self, i: Z) -> Truth {
        i.within(self.floor(), self.ceiling())
    }

    fn floor(&self) -> Z {
        self.lo * (1 << bits::<N>())
    }

    fn ceiling(&self) -> Z {
        self.hi * (1 << bits::<N>()) + ((1 << bits::<N>()) - 1)
    }

    /// The exact integral after a sample.
    pub fn next(&self, i: Z, increment: Z) -> Z {
        (i + increment).clamp(self.floor(), self.ceiling())
    }

    fn state(&self, i: Z) -> PiState<N> {
        PiState::with(N::integrator(&self.settings, N::Accumulator::from_z(i)))
    }

    /// The exact error of two signals.
    pub fn error(&self, set_point: Z, measurement: Z) -> Z {
        let (r, m) = (domain::<N>(set_point), domain::<N>(measurement));
        match self.action {
            Action::Direct => m - r,
            Action::Reverse => r - m,
        }
    }

    /// Is `u` within half an LSB of the exact output, `pd` the sum of P and D at the scale of P?
    pub fn half_lsb(&self, u: Z, pd: Z, i: Z) -> Truth {
        let n = bits::<N>();
        let unit = 1_i128 << n;
        let exact =
            (pd * (1 << (n - SP)) + i - (1 << (n - 1))).clamp(self.lo * unit, self.hi * unit);
        ((u * unit - exact).magnitude() * 2).at_most(unit)
    }

    /// In the order of growing output: `a` no more than `b` for direct action, no less for reverse.
    fn ordered(&self, a: Z, b: Z) -> Truth {
        match self.action {
            Action::Direct => a.at_most(b),
            Action::Reverse => b.at_most(a),
        }
    }
}

/// Any signal of the word.
pub fn signal<N: Narrow>(name: &str) -> Z {
    unknown(name, -one::<N>() - 1, one::<N>())
}

/// Any duty.
pub fn duty<N: Narrow>(name: &str) -> Z {
    unknown(name, 0, one::<N>())
}

/// The exact domain clamp.
pub fn domain<N: Narrow>(x: Z) -> Z {
    let quarter = 1 << (bits::<N>() - 2);
    x.clamp(-quarter, quarter - 1)
}

/// PI: output within the limits and within half an LSB of the exact law; integrator exact, its invariant
/// inductive; every operation exact.
pub fn pi_exact<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let mut state = l.state(i);
    let u = pi::step::<N, SP, M>(&l.settings, &mut state, N::from_z(r), N::from_z(m)).z();
    let e = l.error(r, m);
    let next = state.integrator().word().z();
    claim("output within its limits", u.within(l.lo, l.hi));
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e), i),
    );
    claim("integrator invariant", l.invariant(next));
    claim("integrator exact", next.same(l.next(i, l.ki.times(e))));
}

/// PID: the same, and the filter exact, its invariant inductive.
pub fn pid_exact<N: Proof, const SP: u32, const K: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let quarter = 1_i128 << (bits::<N>() - 2);
    let y = unknown("y", -quarter << K, (quarter << K) - 1);
    let mut state =
        N::pid_state::<SP, K>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let u = pid::step::<N, SP, K, M>(&l.settings, &mut state, N::from_z(r), N::from_z(m)).z();
    let e = l.error(r, m);
    let slope = domain::<N>(m) - (y >> K);
    let g = match action {
        Action::Direct => slope,
        Action::Reverse => -slope,
    };
    let next = state.integrator().word().z();
    let z = state.filtered().z();
    claim("output within its limits", u.within(l.lo, l.hi));
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e) + l.kd.times(g), i),
    );
    claim("integrator invariant", l.invariant(next));
    claim("integrator exact", next.same(l.next(i, l.ki.times(e))));
    claim("filter exact", z.same(y + slope));
    claim(
        "filter invariant",
        z.within(-quarter << K, (quarter << K) - 1),
    );
    claim(
        "filter settles: it moves towards a constant measurement, never past it, until the slope is zero",
        Z::Const(0)
            .less(slope)
            .implies(y.less(z) & (z >> K).at_most(domain::<N>(m)))
            & slope
                .less(0)
                .implies(z.less(y) & domain::<N>(m).at_most(z >> K)),
    );
}

/// PI keeps order: of two copies, the one that is no cooler, with no higher a set point and no less
/// cooling integrated, cools no less now and has integrated no less afterwards. (Heating: the mirror.) By
/// induction, from equal states a hotter history never yields less cooling.
pub fn pi_order<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m1, m2) = (signal::<N>("m1"), signal::<N>("m2"));
    let (r1, r2) = (signal::<N>("r1"), signal::<N>("r2"));
    let (i1, i2) = (l.integral("i1"), l.integral("i2"));
    assume(m1.at_most(m2));
    assume(r2.at_most(r1));
    assume(l.ordered(i1, i2));
    let (mut s1, mut s2) = (l.state(i1), l.state(i2));
    let u1 = pi::step::<N, SP, M>(&l.settings, &mut s1, N::from_z(r1), N::from_z(m1)).z();
    let u2 = pi::step::<N, SP, M>(&l.settings, &mut s2, N::from_z(r2), N::from_z(m2)).z();
    claim("output order", l.ordered(u1, u2));
    claim(
        "integrator order",
        l.ordered(s1.integrator().word().z(), s2.integrator().word().z()),
    );
}

/// Absorption is exact: `I` plus the share at the integrator's scale, clamped; it keeps order.
pub fn absorb_exact<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (i1, i2) = (l.integral("i1"), l.integral("i2"));
    let n = bits::<N>();
    let share = unknown("share", -(1 << (2 * n - 1)), (1 << (2 * n - 1)) - 1);
    let absorbed = |i: Z| {
        N::integrator(&l.settings, N::Accumulator::from_z(i))
            .absorbing::<SP, M>(&l.settings, N::Wide::from_z(share))
            .word()
            .z()
    };
    let (j1, j2) = (absorbed(i1), absorbed(i2));
    claim(
        "absorption exact",
        j1.same(l.next(i1, share * (1 << (n - SP)))),
    );
    claim("integrator invariant", l.invariant(j1));
    claim("order kept", i1.at_most(i2).implies(j1.at_most(j2)));
}

/// A bumpless set-point change: no bump at all while the wanted integrator fits; otherwise between no bump
/// and the full kick, and nearest to no bump of all integrators.
pub fn set_point_bumpless<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r0, r1) = (signal::<N>("m"), signal::<N>("r0"), signal::<N>("r1"));
    let (i, other) = (l.integral("i"), l.integral("other"));
    let demand = |state: &PiState<N>, r: Z| {
        pi::terms::<N, SP, M>(&l.settings, state, N::from_z(r), N::from_z(m))
            .demand
            .z()
    };
    let mut state = l.state(i);
    let before = demand(&state, r0);
    let kick = demand(&state, r1);
    let nearest_of = demand(&l.state(other), r1);
    set_point_change::<N, SP, M>(
        &l.settings,
        &mut state,
        N::from_z(r0),
        N::from_z(r1),
        Weight::bumpless(),
    );
    nearest_change(
        &l,
        (r0, r1),
        i,
        [before, kick, nearest_of, demand(&state, r1)],
    );
    claim(
        "integrator invariant",
        l.invariant(state.integrator().word().z()),
    );
}

/// What a bumpless change of the set point from `r0` to `r1` promises, for the demands before it, without
/// absorption, of any other integrator, and after it; `i` was the integrator.
pub fn nearest_change<N: Proof, const SP: u32>(
    l: &Loop<N, SP>,
    (r0, r1): (Z, Z),
    i: Z,
    [before, kick, nearest_of, after]: [Z; 4],
) {
    let wanted = i + l.kp.times(l.error(r0, r1)) * (1 << (bits::<N>() - SP));
    claim(
        "no bump while the wanted integrator fits",
        l.invariant(wanted).implies(after.same(before)),
    );
    claim(
        "between no bump and the full kick",
        after.between(before, kick),
    );
    claim(
        "nearest attainable",
        (after - before)
            .magnitude()
            .at_most((nearest_of - before).magnitude()),
    );
}

/// A set-point change at any weight: the share that the integrator takes lies between nothing and the whole
/// step of P; the invariant holds and order is kept.
pub fn set_point_weighted<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (r0, r1) = (signal::<N>("r0"), signal::<N>("r1"));
    let (i1, i2) = (l.integral("i1"), l.integral("i2"));
    let b = signal::<N>("b");
    let weight = Weight::from_word(N::from_z(b));
    let whole = 1_i128 << (bits::<N>() - 2);
    let (mut s1, mut s2) = (l.state(i1), l.state(i2));
    for s in [&mut s1, &mut s2] {
        set_point_change::<N, SP, M>(&l.settings, s, N::from_z(r0), N::from_z(r1), weight);
    }
    let (j1, j2) = (s1.integrator().word().z(), s2.integrator().word().z());
    let gain = weight.absorbed_gain::<M>(N::Unsigned::from_z(l.kp)).z();
    claim("absorbed gain between 0 and kp", gain.within(0, l.kp));
    let share = Z::Const(whole) - b.clamp(0, whole);
    claim(
        "absorbed gain rounded to the nearest",
        gain.same((l.kp.times(share) + whole / 2) >> (bits::<N>() - 2)),
    );
    let taken = gain.times(l.error(r0, r1)) * (1 << (bits::<N>() - SP));
    claim("its share is taken exactly", j1.same(l.next(i1, taken)));
    claim("integrator invariant", l.invariant(j1));
    claim("order kept", i1.at_most(i2).implies(j1.at_most(j2)));
}

/// No dead zone, the part about the output: with `e > 0`, increments that add up to `2^n` or more move the
/// output, unless it is at `hi`; with `e < 0` downwards, unless it is at `lo`. Each sample adds exactly
/// `ki*e` until the clamp ([`pi_exact`]) and clamped sums of one sign compose ([`increments_compose`]), so
/// the output moves within `ceil(2^n / (ki*|e|))` samples.
pub fn no_dead_zone<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let n = bits::<N>();
    let sum = unknown("sum", 1 << n, 1 << (2 * n - 1));
    let e = l.error(r, m);
    let demand = |i: Z| {
        pi::terms::<N, SP, M>(&l.settings, &l.state(i), N::from_z(r), N::from_z(m))
            .demand
            .z()
    };
    let now = demand(i);
    let up = demand(l.next(i, sum));
    let down = demand(l.next(i, -sum));
    claim(
        "moves up",
        (Z::Const(0).less(e) & now.less(l.hi)).implies(now.less(up)),
    );
    claim(
        "moves down",
        (e.less(0) & l.lo.less(now)).implies(down.less(now)),
    );
}

/// Clamped increments of one sign add up as if clamped once.
pub fn increments_compose<N: Proof, const SP: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let i = l.integral("i");
    let top = 1_i128 << (2 * bits::<N>());
    let (x, y) = (unknown("x", 0, top), unknown("y", 0, top));
    claim("upwards", l.next(l.next(i, x), y).same(l.next(i, x + y)));
    claim(
        "downwards",
        l.next(l.next(i, -x), -y).same(l.next(i, -(x + y))),
    );
}

/// What stands behind the two operations that models take as a whole: for any word of the accumulator's half, any
/// change and any limits, and for any wide word.
pub fn clipping<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let ends = 1_i128 << (2 * N::BITS - 1);
    let (lo, hi) = (unknown("lo", 0, one::<N>()), unknown("hi", 0, one::<N>()));
    assume(lo.at_most(hi));
    let (i, by) = (unknown("i", 0, ends - 1), unknown("by", -ends, ends - 1));
    let moved = advance(
        N::Accumulator::from_z(i),
        N::Wide::from_z(by),
        N::from_z(lo),
        N::from_z(hi),
        M::WHOLE,
    );
    let ceiling = hi * (1 << N::BITS) + ((1 << N::BITS) - 1);
    claim(
        "the sum, limited",
        moved.z().same((i + by).clamp(lo * (1 << N::BITS), ceiling)),
    );
    let (least, greatest) = (
        unknown("least", -ends, ends - 1),
        unknown("greatest", -ends, ends - 1),
    );
    assume(least.at_most(greatest));
    let confined = confine(
        N::Wide::from_z(by),
        N::Wide::from_z(least),
        N::Wide::from_z(greatest),
    );
    claim(
        "the word, limited",
        confined.z().same(by.clamp(least, greatest)),
    );
}

/// The two shape facts that threshold enumeration rests on: the output is monotone in the integrator, and
/// the next integrator has slope 0 or 1 in it.
pub fn shape<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    assume(l.invariant(i + 1));
    let (mut s1, mut s2) = (l.state(i), l.state(i + 1));
    let u1 = pi::step::<N, SP, M>(&l.settings, &mut s1, N::from_z(r), N::from_z(m)).z();
    let u2 = pi::step::<N, SP, M>(&l.settings, &mut s2, N::from_z(r), N::from_z(m)).z();
    let rise = s2.integrator().word().z() - s1.integrator().word().z();
    claim("output monotone in the integrator", u1.at_most(u2));
    claim("next integrator has slope 0 or 1", rise.within(0, 1));
}
