//! Claims about what switches: two-position control, and the rows of a gain schedule. Each is one sample from any
//! state; as every state of a run is such a state, what is said of one sample holds for runs of any length.

use controller_core::law::schedule::{Row, Schedule};
use controller_core::law::two_position::{TwoPosition, TwoPositionState};
use controller_core::law::{Action, Integrating, pid};
use controller_core::word::{Multiply, Narrow};
use hushloop_proof::expression::{Truth, Z, assume, claim, unknown};
use hushloop_proof::property::{Loop, domain, duty, signal};
use hushloop_proof::symbol::{Exact, Proof};

/// Any count of samples.
fn count<N: Narrow>(name: &str) -> Z {
    unknown(name, 0, (1 << N::BITS) - 1)
}

/// A two-position controller of unknown band and minimum times.
struct Switch<N: Narrow> {
    law: TwoPosition<N>,
    band: Z,
    minimum_on: Z,
    minimum_off: Z,
}

impl<N: Proof> Switch<N> {
    fn any(action: Action) -> Self {
        let band = duty::<N>("band");
        let (minimum_on, minimum_off) = (count::<N>("min_on"), count::<N>("min_off"));
        let word = N::Unsigned::from_z;
        let law = TwoPosition::new(N::from_z(band), word(minimum_on), word(minimum_off), action);
        let Ok(law) = law else {
            unreachable!("a band that is not negative is accepted")
        };
        Self {
            law,
            band,
            minimum_on,
            minimum_off,
        }
    }

    /// One sample from `on` held for `held`: the new state, its position as said.
    fn sample(&self, on: bool, held: Z, r: Z, m: Z) -> (bool, TwoPositionState<N>) {
        let mut state = TwoPositionState::holding(on, N::Unsigned::from_z(held));
        let says = self.law.step(&mut state, N::from_z(r), N::from_z(m));
        (says, state)
    }
}

/// Two-position, from a position held for any count: it switches when the signal is beyond the band on the far side
/// and the minimum time has passed, and only then; the count begins anew at a switch, goes on otherwise, and stops at
/// its greatest.
pub fn two_position<N: Proof, const SP: u32, const ON: bool, M: Multiply<N>>(action: Action) {
    let s = Switch::<N>::any(action);
    let (m, r, held) = (signal::<N>("m"), signal::<N>("r"), count::<N>("held"));
    let (says, state) = s.sample(ON, held, r, m);
    let above = domain::<N>(m) - domain::<N>(r);
    // Cooling goes off, and heating on, below the band.
    let beyond = if ON == (action == Action::Direct) {
        above.less(-s.band)
    } else {
        s.band.less(above)
    };
    let minimum = if ON { s.minimum_on } else { s.minimum_off };
    let switched = Truth::Known(says != ON);
    let next = state.held().z();
    claim("says its state", Truth::Known(says == state.is_on()));
    claim(
        "no switch before the minimum time, whatever the input",
        switched.implies(minimum.at_most(held)),
    );
    claim(
        "no switch within the band",
        switched.implies(s.band.less(above.magnitude())),
    );
    claim(
        "it switches when it wants to and may",
        (beyond & minimum.at_most(held)).implies(switched),
    );
    claim("no switch but to where it wants", switched.implies(beyond));
    claim(
        "the count of samples in this position",
        if says == ON {
            next.same((held + 1).clamp(0, (1_i128 << N::BITS) - 1))
        } else {
            next.same(1)
        },
    );
}

/// Two-position keeps order for one sample from equal states: the hotter of two is on for cooling if the other is,
/// off for heating if the other is.
pub fn two_position_order<N: Proof, const SP: u32, const ON: bool, M: Multiply<N>>(action: Action) {
    let s = Switch::<N>::any(action);
    let (m1, m2) = (signal::<N>("m1"), signal::<N>("m2"));
    let (r1, r2) = (signal::<N>("r1"), signal::<N>("r2"));
    let held = count::<N>("held");
    assume(m1.at_most(m2));
    assume(r2.at_most(r1));
    let (a, _) = s.sample(ON, held, r1, m1);
    let (b, _) = s.sample(ON, held, r2, m2);
    claim(
        "order",
        Truth::Known(match action {
            Action::Direct => a <= b,
            Action::Reverse => b <= a,
        }),
    );
}

/// Over several samples minimum times lose order: one history, hotter for a sample and then like the other, may go off
/// before the other may.
pub fn order_lost_two_position<N: Proof, const SP: u32, M: Multiply<N>>(action: Action) {
    let s = Switch::<N>::any(action);
    let r = signal::<N>("r");
    let (m1, m2) = (signal::<N>("m1"), signal::<N>("m2"));
    let (then, last) = (signal::<N>("then"), signal::<N>("last"));
    assume(m1.at_most(m2));
    let history = |first: Z| {
        let held = Z::Const((1 << N::BITS) - 1);
        let mut state = TwoPositionState::holding(false, N::Unsigned::from_z(held));
        [first, then, last].map(|m| s.law.step(&mut state, N::from_z(r), N::from_z(m)))[2]
    };
    let (a, b) = (history(m1), history(m2));
    claim(
        "order",
        Truth::Known(match action {
            Action::Direct => a <= b,
            Action::Reverse => b <= a,
        }),
    );
}

/// Three rows with any beginnings and hysteresis that the constructor accepts: which row applies.
pub fn schedule_rows<N: Proof, const SP: u32, const NOW: usize, M: Multiply<N>>(action: Action) {
    let l = Loop::<N, SP>::any(action);
    let hysteresis = duty::<N>("hysteresis");
    let from = ["from0", "from1", "from2"].map(signal::<N>);
    let rows = from.map(|from| Row {
        from: N::from_z(from),
        settings: l.settings,
    });
    let Ok(schedule) = Schedule::new(&rows, N::from_z(hysteresis)) else {
        return;
    };
    let (s, other) = (signal::<N>("s"), signal::<N>("other"));
    let row = |s: Z, now: usize| schedule.row_at(N::from_z(s), now);
    // Where a row begins, coming from `now`: the first has no beginning.
    let reached = |s: Z, row: usize, now: usize| match row {
        0 => Truth::Known(true),
        1 | 2 if row <= now => (from[row] - hysteresis).at_most(s),
        1 | 2 => from[row].at_most(s),
        _ => Truth::Known(false),
    };
    let then = row(s, NOW);
    claim(
        "the last row that the signal reaches",
        reached(s, then, NOW) & !reached(s, then + 1, NOW),
    );
    claim(
        "no change within the row and the hysteresis below it",
        (reached(s, NOW, NOW) & !reached(s, NOW + 1, NOW)).implies(Truth::Known(then == NOW)),
    );
    claim("settled at once", Truth::Known(row(s, then) == then));
    let back = row(other, then);
    claim(
        "a change back needs a signal more than the hysteresis away",
        if then > NOW && back < then {
            hysteresis.less(s - other)
        } else if then < NOW && back > then {
            hysteresis.less(other - s)
        } else {
            Truth::Known(true)
        },
    );
    claim(
        "order",
        s.at_most(other)
            .implies(Truth::Known(then <= row(other, NOW))),
    );
}

/// A change of row, PID of any two rows: the sum of the terms stands while the wanted integrator fits the new limits,
/// so the output goes on unless a limit moves it; no row changes nothing.
pub fn schedule_change<N: Proof, const SP: u32, const NOW: usize, M: Multiply<N>>(action: Action) {
    let (a, b) = (Loop::<N, SP>::any(action), Loop::<N, SP>::second(action));
    let rows = [(&a, "from0"), (&b, "from1")].map(|(l, name)| Row {
        from: N::from_z(signal::<N>(name)),
        settings: l.settings,
    });
    let hysteresis = N::from_z(duty::<N>("hysteresis"));
    let Ok(schedule) = Schedule::new(&rows, hysteresis) else {
        unreachable!("two rows are always in order")
    };
    let (old, new) = if NOW == 0 { (&a, &b) } else { (&b, &a) };
    let (m, r, i) = (signal::<N>("m"), signal::<N>("r"), old.integral("i"));
    let quarter = 1_i128 << (N::BITS - 2);
    let y = unknown("y", -quarter << 3, (quarter << 3) - 1);
    let mut state =
        N::pid_state::<SP, 3>(&old.settings, N::Accumulator::from_z(i), N::Wide::from_z(y));
    let demand = |l: &Loop<N, SP>, state: &_| {
        pid::terms::<N, SP, 3, M>(&l.settings, state, N::from_z(r), N::from_z(m))
            .demand
            .z()
    };
    let before = demand(old, &state);
    let rise = domain::<N>(m) - (y >> 3);
    let (e, g) = match action {
        Action::Direct => (old.error(r, m), rise),
        Action::Reverse => (old.error(r, m), -rise),
    };
    let seen = state.signals(action, N::from_z(r), N::from_z(m));
    let row = schedule.look::<M>(&mut state, NOW, N::from_z(signal::<N>("s")), seen);
    let j = state.integrator().word().z();
    if row == NOW {
        claim("no change of row, no change", j.same(i));
        return;
    }
    claim("the other row", Truth::Known(row == 1 - NOW));
    let after = demand(new, &state);
    let old_pd = old.kp.times(e) + old.kd.times(g);
    let new_pd = new.kp.times(e) + new.kd.times(g);
    let shift = N::BITS - SP;
    let fits = new.invariant(i + (old_pd - new_pd) * (1 << shift));
    claim("integrator invariant", new.invariant(j));
    claim("output within the new limits", after.within(new.lo, new.hi));
    claim(
        "the sum stands while the wanted integrator fits",
        fits.implies((new_pd + (j >> shift)).same(old_pd + (i >> shift))),
    );
    claim(
        "no bump while the wanted integrator fits and both limits allow the output",
        (fits & old.lo.less(before) & before.less(old.hi))
            .implies(after.same(before.clamp(new.lo, new.hi))),
    );
}
