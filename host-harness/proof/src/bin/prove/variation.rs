//! Claims about other forms of the law: transfers, other anti-windup, one-product forms. And the order that some of these lose: controls that must come back with a counterexample, so that nobody claims it.

use controller_core::gain::Mantissas;
use controller_core::law::every::{self, Every};
use controller_core::law::{
    Action, Integrating, PiState, Signals, one_product, pi, pid, pid_smooth, transfer, windup,
};
use controller_core::word::{Multiply, Narrow};
use hushloop_proof::expression::{Truth, Z, assume, claim, unknown};
use hushloop_proof::property::{Loop, domain, duty, one, signal};
use hushloop_proof::symbol::{Exact, Proof};

fn state<N: Proof, const SP: u32>(l: &Loop<N, SP>, i: Z) -> PiState<N> {
    PiState::with(N::integrator(&l.settings, N::Accumulator::from_z(i)))
}

/// Manual to automatic: the next demand is the duty that is on, while the wanted integrator fits.
pub fn to_automatic<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let u = duty::<N>("u");
    assume(u.within(l.lo, l.hi));
    let mut s = state(&l, i);
    let seen = Signals::of(action, N::from_z(r), N::from_z(m));
    transfer::to_automatic::<N, SP, M>(&l.settings, &mut s, N::from_z(u), seen);
    let n = N::BITS;
    let wanted = u * (1 << n) + (1 << (n - 1)) - l.kp.times(l.error(r, m)) * (1 << (n - SP));
    let next = pi::step::<N, SP, M>(&l.settings, &mut s.clone(), N::from_z(r), N::from_z(m)).z();
    claim(
        "integrator invariant",
        l.invariant(s.integrator().word().z()),
    );
    claim(
        "the duty goes on",
        l.invariant(wanted).implies(next.same(u)),
    );
}

/// Change of gains: no bump while the wanted integrator fits; the invariant of the new limits holds.
pub fn to_gains<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, y) = (signal::<N>("m"), signal::<N>("r"), signal::<N>("y"));
    let i = l.integral("i");
    let g = l.error(y, m);
    let e = l.error(r, m);
    let top = (1_i128 << N::BITS) - 1;
    let bound = hushloop_proof::property::gain_sum_max::<N, SP>();
    let (kp2, kd2) = (
        unknown("kp2", 0, top.min(bound)),
        unknown("kd2", 0, top.min(bound)),
    );
    assume((kp2 + kd2).at_most(bound));
    let gains = Mantissas {
        kp: N::Unsigned::from_z(kp2),
        ki: N::Unsigned::from_z(l.ki),
        kd: N::Unsigned::from_z(kd2),
    };
    let new = N::settings::<SP>(gains, N::from_z(l.lo), N::from_z(l.hi), action);
    let mut s = state(&l, i);
    let seen = Signals::from_filtered(action, N::from_z(r), N::from_z(m), N::from_z(y));
    transfer::to_gains::<N, SP, M>(&l.settings, &new, &mut s, seen);
    let shift = 1_i128 << (N::BITS - SP);
    let wanted = i + (l.kp.times(e) - kp2.times(e) + l.kd.times(g) - kd2.times(g)) * shift;
    let taken = s.integrator().word().z();
    claim(
        "the integrator takes the difference of the terms, clamped",
        taken.same(l.next(wanted, Z::Const(0))),
    );
    claim("integrator invariant", l.invariant(taken));
}

/// Change of feed-forward: the integrator takes exactly the difference, clamped; order is kept.
pub fn feed_forward<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (i, i2) = (l.integral("i"), l.integral("i2"));
    let (old, new) = (signal::<N>("old"), signal::<N>("new"));
    let absorbed = |i: Z| {
        let mut s = state(&l, i);
        transfer::feed_forward::<N, SP, M>(&l.settings, &mut s, N::from_z(old), N::from_z(new));
        s.integrator().word().z()
    };
    let (j, j2) = (absorbed(i), absorbed(i2));
    claim("exact", j.same(l.next(i, (new - old) * (1 << N::BITS))));
    claim("order kept", i.at_most(i2).implies(j.at_most(j2)));
}

/// Conditional integration: the output is the static law's, the invariant holds, and while the output is inside its
/// limits the integrator is the static law's too.
pub fn conditional<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let (mut a, mut b) = (state(&l, i), state(&l, i));
    let u = windup::conditional::<N, SP, M>(&l.settings, &mut a, N::from_z(r), N::from_z(m)).z();
    let v = pi::step::<N, SP, M>(&l.settings, &mut b, N::from_z(r), N::from_z(m)).z();
    let (j, k) = (a.integrator().word().z(), b.integrator().word().z());
    claim("the static law's output", u.same(v));
    claim("integrator invariant", l.invariant(j));
    claim(
        "the static law inside the limits",
        (l.lo.less(u) & u.less(l.hi)).implies(j.same(k)),
    );
    claim(
        "moved as the static law or not at all",
        j.same(k) | j.same(i),
    );
}

/// `floor(kt * excess)` at the integrator's scale, from the definition: the excess is what the sum `s` at the scale
/// of P lies outside the sums that round to `applied`, before rounding, limited to full duty.
fn tracked<N: Narrow, const SP: u32>(kt: Z, s: Z, applied: Z) -> Z {
    let least = applied * (1 << SP);
    let full = one::<N>() << SP;
    let excess = (s.clamp(least, least + ((1 << SP) - 1)) - s).clamp(-full, full);
    let whole = excess >> SP;
    kt.times(whole) + (kt.times(excess - whole * (1 << SP)) >> SP)
}

/// Tracking its own demand, with D: the static law's output; the integrator takes the increment and the share of the
/// excess before rounding, exactly; while the output is inside its limits it is the static law's.
pub fn tracking<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let kt = unknown("kt", 0, (1 << N::BITS) - 1);
    let quarter = 1_i128 << (N::BITS - 2);
    let y = unknown("y", -quarter << 3, (quarter << 3) - 1);
    let start =
        || N::pid_state::<SP, 3>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let (mut a, mut b) = (start(), start());
    let gain = N::Unsigned::from_z(kt);
    let u =
        windup::tracking::<N, SP, M>(&l.settings, &mut a, N::from_z(r), N::from_z(m), gain, |u| u)
            .z();
    let v = pid::step::<N, SP, 3, M>(&l.settings, &mut b, N::from_z(r), N::from_z(m)).z();
    let (j, k) = (a.integrator().word().z(), b.integrator().word().z());
    let e = l.error(r, m);
    let slope = domain::<N>(m) - (y >> 3);
    let g = match action {
        Action::Direct => slope,
        Action::Reverse => -slope,
    };
    let s = l.kp.times(e) + l.kd.times(g) + (i >> (N::BITS - SP));
    claim("the static law's output", u.same(v));
    claim("integrator invariant", l.invariant(j));
    claim(
        "integrator exact",
        j.same(l.next(i, l.ki.times(e) + tracked::<N, SP>(kt, s, u))),
    );
    claim(
        "the static law inside the limits",
        (l.lo.less(u) & u.less(l.hi)).implies(j.same(k)),
    );
}

/// Tracking a duty that something else than the law decided, PI: nothing wraps, the integrator is exact and keeps
/// its invariant.
pub fn tracking_applied<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let kt = unknown("kt", 0, (1 << N::BITS) - 1);
    let w = duty::<N>("w");
    let mut s = state(&l, i);
    let gain = N::Unsigned::from_z(kt);
    let out = windup::tracking::<N, SP, M>(
        &l.settings,
        &mut s,
        N::from_z(r),
        N::from_z(m),
        gain,
        |_| N::from_z(w),
    );
    let e = l.error(r, m);
    let sum = l.kp.times(e) + (i >> (N::BITS - SP));
    let j = s.integrator().word().z();
    claim("the applied duty", out.z().same(w));
    claim("integrator invariant", l.invariant(j));
    claim(
        "integrator exact",
        j.same(l.next(i, l.ki.times(e) + tracked::<N, SP>(kt, sum, w))),
    );
}

/// Integration at every m-th sample: the static law's output at each; the integrator is the static law's when the
/// sample is due, and stands still otherwise.
pub fn spaced<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let mut s = state(&l, i);
    let v = pi::step::<N, SP, M>(&l.settings, &mut s, N::from_z(r), N::from_z(m)).z();
    let k = s.integrator().word().z();
    for due in [true, false] {
        let mut count = Every::new(2);
        if !due {
            let _ = count.due();
        }
        let mut s = state(&l, i);
        let u =
            every::step::<N, SP, M>(&l.settings, &mut s, &mut count, N::from_z(r), N::from_z(m));
        let j = s.integrator().word().z();
        claim("the static law's output", u.z().same(v));
        claim(
            "the integrator moves when due, and only then",
            j.same(if due { k } else { i }),
        );
    }
}

/// The series form with one product: output within half an LSB of its exact law, invariants inductive.
pub fn series<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let quarter = 1_i128 << (N::BITS - 2);
    let y = unknown("y", -quarter << 3, (quarter << 3) - 1);
    let mut s = N::pid_state::<SP, 3>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let u =
        one_product::series_step::<N, SP, 3, 2, M>(&l.settings, &mut s, N::from_z(r), N::from_z(m))
            .z();
    let slope = domain::<N>(m) - (y >> 3);
    let g = match action {
        Action::Direct => slope,
        Action::Reverse => -slope,
    };
    let lead = (l.error(r, m) + g * 4).clamp(-one::<N>(), one::<N>());
    let product = l.kp.times(lead);
    claim("output within its limits", u.within(l.lo, l.hi));
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, product, i),
    );
    claim(
        "integrator exact",
        s.integrator().word().z().same(l.next(i, product)),
    );
    claim(
        "integrator invariant",
        l.invariant(s.integrator().word().z()),
    );
}

/// PID with a filter of any time constant: as for PID, output within half an LSB of its exact law, integrator and
/// filter exact, their invariants inductive.
pub fn smooth<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let a = unknown("a", 0, (1 << N::BITS) - 1);
    let quarter = 1_i128 << (N::BITS - 2);
    let reach = (-quarter << N::BITS, (quarter << N::BITS) - 1);
    let y = unknown("y", reach.0, reach.1);
    let mut s = N::smooth_state(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let smoothing = N::Unsigned::from_z(a);
    let u =
        pid_smooth::step::<N, SP, M>(&l.settings, &mut s, smoothing, N::from_z(r), N::from_z(m))
            .z();
    let rise = domain::<N>(m) - (y >> N::BITS);
    let g = match action {
        Action::Direct => rise,
        Action::Reverse => -rise,
    };
    let e = l.error(r, m);
    let (next, z) = (s.integrator().word().z(), s.filtered().z());
    claim("output within its limits", u.within(l.lo, l.hi));
    claim(
        "output within half an LSB of the exact law",
        l.half_lsb(u, l.kp.times(e) + l.kd.times(g), i),
    );
    claim("integrator exact", next.same(l.next(i, l.ki.times(e))));
    claim("integrator invariant", l.invariant(next));
    claim("filter exact", z.same(y + a.times(rise)));
    claim("filter invariant", z.within(reach.0, reach.1));
}

/// Two samples of two histories from one state, the second no cooler: does the second output keep order?
fn two_samples<N: Proof, const SP: u32>(
    action: Action,
    second: impl Fn(&Loop<N, SP>, Z, Z, Z, Z) -> Z,
) {
    let l = Loop::<N, SP>::any(action);
    let (r, i) = (signal::<N>("r"), l.integral("i"));
    let (m1, m2, n1, n2) = (
        signal::<N>("m1"),
        signal::<N>("m2"),
        signal::<N>("n1"),
        signal::<N>("n2"),
    );
    assume(m1.at_most(m2));
    assume(n1.at_most(n2));
    let (a, b) = (second(&l, r, i, m1, n1), second(&l, r, i, m2, n2));
    let ordered: Truth = match action {
        Action::Direct => a.at_most(b),
        Action::Reverse => b.at_most(a),
    };
    claim("order", ordered);
}

/// Conditional integration loses order.
pub fn order_lost_conditional<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    two_samples::<N, SP>(action, |l, r, i, m, n| {
        let mut s = state(l, i);
        let _ = windup::conditional::<N, SP, M>(&l.settings, &mut s, N::from_z(r), N::from_z(m));
        pi::step::<N, SP, M>(&l.settings, &mut s, N::from_z(r), N::from_z(n)).z()
    });
}

/// Tracking loses order.
pub fn order_lost_tracking<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    two_samples::<N, SP>(action, |l, r, i, m, n| {
        let mut s = state(l, i);
        let half = N::Unsigned::from_z(Z::Const(1 << (N::BITS - 1)));
        let _ = windup::tracking::<N, SP, M>(
            &l.settings,
            &mut s,
            N::from_z(r),
            N::from_z(m),
            half,
            |u| u,
        );
        pi::step::<N, SP, M>(&l.settings, &mut s, N::from_z(r), N::from_z(n)).z()
    });
}

/// A derivative loses order.
pub fn order_lost_derivative<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    two_samples::<N, SP>(action, |l, r, i, m, n| {
        let y = Z::Const(0);
        let mut s =
            N::pid_state::<SP, 1>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
        let _ = pid::step::<N, SP, 1, M>(&l.settings, &mut s, N::from_z(r), N::from_z(m));
        pid::step::<N, SP, 1, M>(&l.settings, &mut s, N::from_z(r), N::from_z(n)).z()
    });
}

/// Manual to automatic between the samples loses order.
pub fn order_lost_manual<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    two_samples::<N, SP>(action, |l, r, i, m, n| {
        let mut s = state(l, i);
        let seen = Signals::of(action, N::from_z(r), N::from_z(m));
        transfer::to_automatic::<N, SP, M>(&l.settings, &mut s, N::from_z(l.lo), seen);
        pi::step::<N, SP, M>(&l.settings, &mut s, N::from_z(r), N::from_z(n)).z()
    });
}
