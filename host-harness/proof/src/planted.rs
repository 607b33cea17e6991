//! Deliberately wrong orders of operations. Each is a variation on the law that reads plausibly; the
//! properties must catch every one, and the counterexample must reproduce on integers. A proof that
//! cannot fail proves nothing.

use super::expression::{Truth, Z, assume, claim, unknown};
use super::property::{Loop, domain, gain_sum_max, one, signal};
use super::symbol::{Exact, Proof};
use controller_core::law::schedule::{Row, Schedule};
use controller_core::law::{Action, Integrating, PiState, Signals, transfer};
use controller_core::word::{Accumulator, Multiply, Narrow, Unsigned, Wide, Word, into_domain};

fn error<N: Narrow>(action: Action, r: N, m: N) -> N::Wide {
    let (r, m) = (into_domain(r).widen(), into_domain(m).widen());
    match action {
        Action::Direct => m.minus(r),
        Action::Reverse => r.minus(m),
    }
}

/// `S` of the law, and what it is made of.
fn parts<N: Proof, const SP: u32, M: Multiply<N>>(
    l: &Loop<N, SP>,
) -> (N::Wide, N::Wide, N::Wide, Z) {
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let e = error::<N>(l.action, N::from_z(r), N::from_z(m));
    let p = M::multiply_widened(N::Unsigned::from_z(l.kp), e);
    let i_word = N::Accumulator::from_z(i).descale(N::BITS - SP);
    (p, e, i_word, i)
}

/// The sum narrowed to the output's word before it is clamped.
pub fn narrowed_before_clamp<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (p, e, i_word, i) = parts::<N, SP, M>(&l);
    let u = p
        .plus(i_word)
        .shift_right(SP)
        .narrow()
        .clamp(N::from_z(l.lo), N::from_z(l.hi))
        .z();
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e.z()), i),
    );
}

/// P clamped to full duty before D is added: 150 % - 80 % + 10 % gives 30 % instead of 80 %.
pub fn p_clamped_before_d<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (p, e, i_word, i) = parts::<N, SP, M>(&l);
    let g = unknown("g", -one::<N>(), one::<N>());
    let d = M::multiply(N::Unsigned::from_z(l.kd), N::from_z(g));
    let full = N::Wide::from_z(Z::Const(one::<N>() << SP));
    let p = p.clamp(N::Wide::literal(0).minus(full), full);
    let sum = p.plus(d).plus(i_word);
    let u = sum
        .shift_right(SP)
        .clamp(N::from_z(l.lo).widen(), N::from_z(l.hi).widen())
        .narrow()
        .z();
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e.z()) + l.kd.times(g), i),
    );
}

/// P and I rounded one by one.
pub fn rounded_apart<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (p, e, _, i) = parts::<N, SP, M>(&l);
    let half = N::Wide::literal(1 << (SP - 1));
    let i_word = N::Accumulator::from_z(i).top().widen();
    let u = p
        .plus(half)
        .shift_right(SP)
        .plus(i_word)
        .clamp(N::from_z(l.lo).widen(), N::from_z(l.hi).widen())
        .narrow()
        .z();
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e.z()), i),
    );
}

/// The excess of tracking measured after rounding: up to half an LSB is taken back although the demand went out as
/// it is.
pub fn excess_after_rounding<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (p, e, i_word, i) = parts::<N, SP, M>(&l);
    let kt = unknown("kt", 0, (1 << N::BITS) - 1);
    let sum = p.plus(i_word);
    let limit = |z: Z| N::from_z(z).widen();
    let u = sum.shift_right(SP).clamp(limit(l.lo), limit(l.hi));
    // Against the sum without its rounding half.
    let excess = u.shift_left(SP).z() + (1 << (SP - 1)) - sum.z();
    let increment = l.ki.times(e.z());
    let moved = l.next(i, increment + (kt.times(excess) >> SP));
    claim(
        "the static law inside the limits",
        (l.lo.less(u.z()) & u.z().less(l.hi)).implies(moved.same(l.next(i, increment))),
    );
}

/// The increment truncated to whole output LSB.
pub fn truncated_increment<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (_, e, _, i) = parts::<N, SP, M>(&l);
    let increment = M::multiply_widened(N::Unsigned::from_z(l.ki), e)
        .shift_right(N::BITS)
        .z()
        * (1 << N::BITS);
    claim(
        "integrator exact",
        l.next(i, increment).same(l.next(i, l.ki.times(e.z()))),
    );
}

/// The integrator clamped before the increment is added.
pub fn clamped_before_increment<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (_, e, _, i) = parts::<N, SP, M>(&l);
    let increment = M::multiply_widened(N::Unsigned::from_z(l.ki), e).z();
    claim(
        "integrator invariant",
        l.invariant(l.next(i, Z::Const(0)) + increment),
    );
}

/// A sum that has turned below zero taken for one above the ceiling.
pub fn turned_taken_for_high<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (_, e, _, i) = parts::<N, SP, M>(&l);
    let increment = M::multiply_widened(N::Unsigned::from_z(l.ki), e);
    let moved = N::Accumulator::from_z(i)
        .turned(increment)
        .clamp(
            N::Accumulator::floor_of(N::from_z(l.lo)),
            N::Accumulator::ceiling_of(N::from_z(l.hi)),
        )
        .z();
    claim("integrator exact", moved.same(l.next(i, l.ki.times(e.z()))));
}

/// `kp + kd` one above its bound.
pub fn gain_sum_one_above<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let bound = gain_sum_max::<N, SP>() + 1;
    let top = (1_i128 << N::BITS) - 1;
    let (kp, kd) = (
        unknown("kp", 0, top.min(bound)),
        unknown("kd", 0, top.min(bound)),
    );
    assume((kp + kd).at_most(bound));
    let (m, r) = (signal::<N>("m"), signal::<N>("r"));
    let g = unknown("g", -one::<N>(), one::<N>());
    let i = unknown("i", 0, (1 << (2 * N::BITS - 1)) - 1);
    let p = M::multiply_widened(
        N::Unsigned::from_z(kp),
        error::<N>(action, N::from_z(r), N::from_z(m)),
    );
    let d = M::multiply(N::Unsigned::from_z(kd), N::from_z(g));
    let _ = p
        .plus(d)
        .plus(N::Accumulator::from_z(i).descale(N::BITS - SP));
}

/// The domain inclusive of `+2^(n-2)`: a difference of two no longer leaves room for a change of sign, and
/// the narrow error wraps.
pub fn domain_inclusive<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let quarter = 1_i128 << (N::BITS - 2);
    let (m, r) = (signal::<N>("m"), signal::<N>("r"));
    let inclusive =
        |x: Z| N::from_z(x).clamp(N::from_z(Z::Const(-quarter)), N::from_z(Z::Const(quarter)));
    let _ = inclusive(m).minus(inclusive(r));
}

/// Negative gains allowed: P + D leaves its type at one corner.
pub fn negative_gains<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let any = |name: &str| N::from_z(signal::<N>(name)).widen();
    let (kp, kd) = (any("kp"), any("kd"));
    let least = -one::<N>() - 1;
    // The products of the corner itself, so that the question stays linear.
    let e = N::from_z(Z::Const(least)).widen();
    let _ = kp.times(e).plus(kd.times(e));
}

/// The set point weighted inside P: the loop sticks although the error is not zero.
pub fn naive_weight<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let weighted = domain::<N>(r) >> 1;
    let p = M::multiply_widened(
        N::Unsigned::from_z(l.kp),
        error::<N>(action, N::from_z(weighted), N::from_z(m)),
    );
    let n = N::BITS;
    let demand = |i: Z| {
        let sum = p.plus(N::Accumulator::from_z(i).descale(n - SP));
        sum.shift_right(SP)
            .clamp(N::from_z(l.lo).widen(), N::from_z(l.hi).widen())
            .narrow()
            .z()
    };
    let sum = unknown("sum", 1 << n, 1 << (2 * n - 1));
    let e = l.error(r, m);
    let (now, up) = (demand(i), demand(l.next(i, sum)));
    claim(
        "moves up",
        (Z::Const(0).less(e) & now.less(l.hi)).implies(now.less(up)),
    );
}

/// A set-point change absorbed as the difference of P terms clamped to full duty: later, when P has come
/// back into range, the output is not where the plain law with the wanted integral would have it.
pub fn absorbed_clamped_terms<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r0, r1, i) = (
        signal::<N>("m"),
        signal::<N>("r0"),
        signal::<N>("r1"),
        l.integral("i"),
    );
    let full = one::<N>() << SP;
    let p = |r: Z| {
        M::multiply_widened(
            N::Unsigned::from_z(l.kp),
            error::<N>(action, N::from_z(r), N::from_z(m)),
        )
        .z()
    };
    let share = p(r0).clamp(-full, full) - p(r1).clamp(-full, full);
    let wanted = i + (p(r0) - p(r1)) * (1 << (N::BITS - SP));
    let taken = l.next(i, share * (1 << (N::BITS - SP)));
    claim(
        "the integrator takes the change",
        l.invariant(wanted).implies(taken.same(wanted)),
    );
}

/// The action forgotten in the integrator: order is lost.
pub fn action_forgotten<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m1, m2, r, i) = (
        signal::<N>("m1"),
        signal::<N>("m2"),
        signal::<N>("r"),
        l.integral("i"),
    );
    assume(m1.at_most(m2));
    let wrong = action.opposite();
    let next = |m: Z| {
        let e = error::<N>(wrong, N::from_z(r), N::from_z(m));
        l.next(i, M::multiply_widened(N::Unsigned::from_z(l.ki), e).z())
    };
    let (j1, j2) = (next(m1), next(m2));
    let ordered: Truth = match action {
        Action::Direct => j1.at_most(j2),
        Action::Reverse => j2.at_most(j1),
    };
    claim("integrator order", ordered);
}

/// Two-position with the minimum time of the position it goes to in place of the one it is in.
pub fn minimum_of_the_other<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let count = |name: &str| unknown(name, 0, (1_i128 << N::BITS) - 1);
    let (minimum_on, minimum_off, held) = (count("min_on"), count("min_off"), count("held"));
    let (m, r) = (signal::<N>("m"), signal::<N>("r"));
    let word = N::Unsigned::from_z;
    // On, and no band: off on the far side of the set point.
    let far = error::<N>(action, N::from_z(r), N::from_z(m)).below(N::Wide::literal(0));
    let switched = far && !word(held).below(word(minimum_off));
    claim(
        "no switch before the minimum time, whatever the input",
        Truth::Known(switched).implies(minimum_on.at_most(held)),
    );
}

/// A count of samples that goes on beyond its greatest.
pub fn count_without_end<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let held = unknown("held", 0, (1_i128 << N::BITS) - 1);
    let _ = N::Unsigned::from_z(held).plus(N::Unsigned::literal(1));
}

/// A schedule's row left where it begins: noise there changes rows at every sample.
pub fn row_without_hysteresis<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let hysteresis = unknown("hysteresis", 0, one::<N>());
    let (from, s) = (signal::<N>("from1"), signal::<N>("s"));
    let rows = [(); 2].map(|()| Row {
        from: N::from_z(from),
        settings: l.settings,
    });
    // The band is asked of the caller and forgotten.
    let Ok(schedule) = Schedule::new(&rows, N::literal(0)) else {
        unreachable!("two rows are always in order")
    };
    claim(
        "no change within the row and the hysteresis below it",
        (from - hysteresis)
            .at_most(s)
            .implies(Truth::Known(schedule.row_at(N::from_z(s), 1) == 1)),
    );
}

/// A change of row that gives the integrator the new terms less the old.
pub fn row_change_backwards<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let (a, b) = (Loop::<N, SP>::any(action), Loop::<N, SP>::second(action));
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), a.integral("i"));
    let e = a.error(r, m);
    let mut state = PiState::with(N::integrator(&a.settings, N::Accumulator::from_z(i)));
    let seen = Signals::of(action, N::from_z(r), N::from_z(m));
    transfer::to_gains::<N, SP, M>(&b.settings, &a.settings, &mut state, seen);
    let shift = N::BITS - SP;
    let wanted = i + (a.kp.times(e) - b.kp.times(e)) * (1 << shift);
    let j = state.integrator().word().z();
    claim(
        "the sum stands while the wanted integrator fits",
        b.invariant(wanted)
            .implies((b.kp.times(e) + (j >> shift)).same(a.kp.times(e) + (i >> shift))),
    );
}

/// A ramp that always moves by its whole rate.
pub fn ramp_without_end<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let (now, wanted) = (signal::<N>("now"), signal::<N>("wanted"));
    let rate = unknown("rate", 0, one::<N>());
    let (word, step) = (N::from_z(now), N::from_z(rate));
    let next = if N::from_z(wanted).below(word) {
        word.saturating_plus(N::literal(0).minus(step))
    } else {
        word.saturating_plus(step)
    };
    claim("never beyond the target", next.z().between(now, wanted));
}
