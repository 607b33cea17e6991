//! Which comparison a target makes does not matter: from any state, upper halves and whole words give the same sample,
//! state and absorption. So what is proven with one of them holds with the other.

use super::expression::{claim, unknown};
use super::property::{Halves, Loop, Whole, signal};
use super::symbol::{Exact, Proof};
use controller_core::law::{Action, Integrating, PiState, pi, pid};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::Multiply;

/// PI: one sample, its terms and a change of the set point, with either comparison.
pub fn pi_either<N: Proof, const SP: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let start = PiState::with(N::integrator(&l.settings, N::Accumulator::from_z(i)));
    let (mut a, mut b) = (start, start);
    let (r, m) = (N::from_z(r), N::from_z(m));
    let u = pi::step::<N, SP, Halves>(&l.settings, &mut a, r, m).z();
    let v = pi::step::<N, SP, Whole>(&l.settings, &mut b, r, m).z();
    claim("the same output", u.same(v));
    let (j, k) = (a.integrator().word().z(), b.integrator().word().z());
    claim("the same integrator", j.same(k));
    let shown = pi::terms::<N, SP, Whole>(&l.settings, &start, r, m);
    claim(
        "the terms' demand is the sample's",
        shown.demand.z().same(u),
    );
}

/// A change of the set point at any weight, and what it absorbs.
pub fn absorb_either<N: Proof, const SP: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (r0, r1, i) = (signal::<N>("r0"), signal::<N>("r1"), l.integral("i"));
    let b = unknown("b", 0, 1 << (N::BITS - 2));
    let weight = Weight::from_word(N::from_z(b));
    fn changed<N: Proof, const SP: u32, M: Multiply<N>>(
        l: &Loop<N, SP>,
        i: super::expression::Z,
        (old, new): (N, N),
        weight: Weight<N>,
    ) -> super::expression::Z {
        let mut state = PiState::with(N::integrator(&l.settings, N::Accumulator::from_z(i)));
        set_point_change::<N, SP, M>(&l.settings, &mut state, old, new, weight);
        state.integrator().word().z()
    }
    let change = (N::from_z(r0), N::from_z(r1));
    let halves = changed::<N, SP, Halves>(&l, i, change, weight);
    let whole = changed::<N, SP, Whole>(&l, i, change, weight);
    claim("the same integrator", halves.same(whole));
}

/// PID: one sample and its terms, with either comparison.
pub fn pid_either<N: Proof, const SP: u32, const K: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let quarter = 1_i128 << (N::BITS - 2);
    let y = unknown("y", -quarter << K, (quarter << K) - 1);
    let start = N::pid_state::<SP, K>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let (mut a, mut b) = (start, start);
    let (r, m) = (N::from_z(r), N::from_z(m));
    let u = pid::step::<N, SP, K, Halves>(&l.settings, &mut a, r, m).z();
    let v = pid::step::<N, SP, K, Whole>(&l.settings, &mut b, r, m).z();
    claim("the same output", u.same(v));
    let (j, k) = (a.integrator().word().z(), b.integrator().word().z());
    claim("the same integrator", j.same(k));
    claim("the same filter", a.filtered().z().same(b.filtered().z()));
    let shown = pid::terms::<N, SP, K, Whole>(&l.settings, &start, r, m);
    claim(
        "the terms' demand is the sample's",
        shown.demand.z().same(u),
    );
}
