//! Where a run begins: every way to make a state gives the invariant that one sample keeps. And what PID does as PI
//! does: bumpless set points, no dead zone.

use super::expression::{Z, assume, claim, unknown};
use super::property::{Loop, domain, nearest_change, one, signal};
use super::symbol::{Exact, Proof};
use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, Integrator, PiState, PidState, pid, transfer};
use controller_core::setpoint::{Weight, set_point_change};
use controller_core::word::{Multiply, Narrow};

fn exact_word<N: Narrow>(duty: Z) -> Z {
    duty * (1 << N::BITS) + (1 << (N::BITS - 1))
}

/// Any word of the accumulator, the invariant or not.
fn any_word<N: Narrow>(name: &str) -> Z {
    unknown(name, 0, (1 << (2 * N::BITS)) - 1)
}

/// PI: the state of power-on, of a duty, of a restart's word, and of a change of limits.
pub fn begins<N: Proof, const SP: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let start = PiState::start(&l.settings).integrator().word().z();
    let full = match action {
        Action::Direct => Z::Const(0).less(l.ki),
        Action::Reverse => Z::Const(0).less(0),
    };
    claim(
        "starts on the safe side, exactly",
        start.same(exact_word::<N>(full.choose(l.hi, l.lo))),
    );
    let duty = signal::<N>("u");
    let exactly = Integrator::exactly(&l.settings, N::from_z(duty)).word().z();
    claim(
        "stands for exactly the duty, limited",
        exactly.same(exact_word::<N>(duty.clamp(l.lo, l.hi))),
    );
    let word = any_word::<N>("w");
    let restored = Integrator::from_word(&l.settings, N::Accumulator::from_z(word));
    claim(
        "a word is limited to the invariant",
        restored.word().z().same(l.next(word, Z::Const(0))),
    );
    let i = l.integral("i");
    let (lo, hi) = (unknown("lo2", 0, one::<N>()), unknown("hi2", 0, one::<N>()));
    assume(lo.less(hi));
    let gains = Mantissas {
        kp: N::Unsigned::from_z(l.kp),
        ki: N::Unsigned::from_z(l.ki),
        kd: N::Unsigned::from_z(l.kd),
    };
    let new = N::settings::<SP>(gains, N::from_z(lo), N::from_z(hi), action);
    let mut state = PiState::with(N::integrator(&l.settings, N::Accumulator::from_z(i)));
    transfer::to_limits(&new, &mut state);
    let (floor, ceiling) = (
        lo * (1 << N::BITS),
        hi * (1 << N::BITS) + ((1 << N::BITS) - 1),
    );
    claim(
        "new limits confine",
        state.integrator().word().z().same(i.clamp(floor, ceiling)),
    );
    claim(
        "what was given is kept",
        PiState::with(restored)
            .integrator()
            .word()
            .z()
            .same(restored.word().z()),
    );
}

/// PID: the filter of every new state is its seed, or a restart's word limited to its invariant.
pub fn pid_begins<N: Proof, const SP: u32, const K: u32>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, i) = (signal::<N>("m"), l.integral("i"));
    let seed = domain::<N>(m) * (1 << K);
    let start = PidState::<N, K>::start(&l.settings, N::from_z(m));
    claim(
        "the filter begins at the measurement",
        start.filtered().z().same(seed),
    );
    let pi = PiState::start(&l.settings).integrator().word().z();
    claim(
        "the integrator as PI's",
        start.integrator().word().z().same(pi),
    );
    let (w, y) = (
        any_word::<N>("w"),
        unknown("y", -(1 << (2 * N::BITS - 1)), (1 << (2 * N::BITS - 1)) - 1),
    );
    let mut state =
        PidState::<N, K>::restored(&l.settings, N::Accumulator::from_z(w), N::Wide::from_z(y));
    let quarter = 1_i128 << (N::BITS - 2);
    claim(
        "a restart's filter is limited to its invariant",
        state
            .filtered()
            .z()
            .same(y.clamp(-quarter << K, (quarter << K) - 1)),
    );
    claim(
        "a restart's integrator too",
        state.integrator().word().z().same(l.next(w, Z::Const(0))),
    );
    state.set_integrator(N::integrator(&l.settings, N::Accumulator::from_z(i)));
    state.reseed(N::from_z(m));
    claim("seeded anew", state.filtered().z().same(seed));
    claim(
        "the integrator stays",
        state.integrator().word().z().same(i),
    );
}

/// Any state of a PID law, its filter word `y`.
fn any_state<N: Proof, const SP: u32, const K: u32>(l: &Loop<N, SP>, i: Z) -> (PidState<N, K>, Z) {
    let quarter = 1_i128 << (N::BITS - 2);
    let y = unknown("y", -quarter << K, (quarter << K) - 1);
    let state = N::pid_state::<SP, K>(&l.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    (state, y)
}

/// PID: a bumpless set-point change makes no bump at all while the wanted integrator fits; otherwise it ends
/// between no bump and the full kick, nearest to no bump of all integrators.
pub fn pid_bumpless<N: Proof, const SP: u32, const K: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r0, r1) = (signal::<N>("m"), signal::<N>("r0"), signal::<N>("r1"));
    let (i, other) = (l.integral("i"), l.integral("other"));
    let (mut state, _) = any_state::<N, SP, K>(&l, i);
    let demand = |state: &PidState<N, K>, r: Z| {
        pid::terms::<N, SP, K, M>(&l.settings, state, N::from_z(r), N::from_z(m))
            .demand
            .z()
    };
    let before = demand(&state, r0);
    let kick = demand(&state, r1);
    let mut another = state;
    another.set_integrator(N::integrator(&l.settings, N::Accumulator::from_z(other)));
    let nearest_of = demand(&another, r1);
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
}

/// PID: no dead zone, as PI, once the filter has settled on the measurement.
pub fn pid_no_dead_zone<N: Proof, const SP: u32, const K: u32, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), l.integral("i"));
    let sum = unknown("sum", 1 << N::BITS, 1 << (2 * N::BITS - 1));
    let (start, y) = any_state::<N, SP, K>(&l, i);
    assume((y >> K).same(domain::<N>(m)));
    let e = l.error(r, m);
    let demand = |i: Z| {
        let mut state = start;
        state.set_integrator(N::integrator(&l.settings, N::Accumulator::from_z(i)));
        pid::terms::<N, SP, K, M>(&l.settings, &state, N::from_z(r), N::from_z(m))
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
