//! Claims about the shapers round the law: high-select, slew limit, backlash, error dead band, set-point ramp.

use controller_core::law::{Action, select, shaping};
use controller_core::word::Multiply;
use hushloop_proof::expression::{Z, assume, claim, unknown};
use hushloop_proof::property::{duty, one, signal};
use hushloop_proof::symbol::Proof;

/// High-select: the greatest of the demands, and that of the loop it names; without tracking it keeps order.
pub fn select<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let (lower, upper) = (["x1", "y1", "z1"], ["x2", "y2", "z2"]);
    let (lower, upper) = (lower.map(duty::<N>), upper.map(duty::<N>));
    for (a, b) in lower.iter().zip(upper) {
        assume(a.at_most(b));
    }
    let highest = |demands: [Z; 3]| {
        let words = demands.map(N::from_z);
        select::highest(&words).map_or((0, Z::Const(-1)), |(of, word)| (of, word.z()))
    };
    let (winner, first) = highest(lower);
    for demand in lower {
        claim("none is greater", demand.at_most(first));
    }
    claim("the demand of the loop it names", first.same(lower[winner]));
    claim("order", first.at_most(highest(upper).1));
}

/// Slew limit, backlash and error dead band are monotone in signal and state, and stay where they promise.
pub fn shapers<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let w = |z: Z| N::from_z(z);
    let (u1, u2) = (signal::<N>("u1"), signal::<N>("u2"));
    let (p1, p2) = (signal::<N>("p1"), signal::<N>("p2"));
    let (down, up, width) = (duty::<N>("down"), duty::<N>("up"), duty::<N>("width"));
    assume(u1.at_most(u2));
    assume(p1.at_most(p2));
    let slew = |p: Z, u: Z| shaping::slew(w(p), w(u), w(down), w(up)).z();
    let lash = |p: Z, u: Z| shaping::backlash(w(p), w(u), w(width)).z();
    claim("slew order", slew(p1, u1).at_most(slew(p2, u2)));
    claim("slew limit", slew(p1, u1).within(p1 - down, p1 + up));
    claim("backlash order", lash(p1, u1).at_most(lash(p2, u2)));
    claim(
        "backlash within its width",
        lash(p1, u1).within(u1 - width, u1 + width),
    );
    let (e1, e2) = (
        unknown("e1", -one::<N>(), one::<N>()),
        unknown("e2", -one::<N>(), one::<N>()),
    );
    assume(e1.at_most(e2));
    let beyond = |e: Z| shaping::beyond(w(e), w(width)).z();
    claim("error dead band order", beyond(e1).at_most(beyond(e2)));
}

/// Set-point ramp: it moves towards the target by the whole rate or as far as the target is, so it never passes it
/// and arrives after the distance over the rate, rounded up; it keeps the order of targets and of set points.
pub fn ramp<N: Proof, const SP: u32, M: Multiply<N>>(_: Action) {
    let (now, wanted) = (signal::<N>("now"), signal::<N>("wanted"));
    let (above, higher) = (signal::<N>("above"), signal::<N>("higher"));
    let rate = duty::<N>("rate");
    assume(now.at_most(above));
    assume(wanted.at_most(higher));
    let ramp =
        |now: Z, wanted: Z| shaping::ramp(N::from_z(now), N::from_z(wanted), N::from_z(rate)).z();
    let next = ramp(now, wanted);
    let (left, moved) = ((wanted - now).magnitude(), (next - now).magnitude());
    claim("never beyond the target", next.between(now, wanted));
    claim("at most the rate", moved.at_most(rate));
    claim(
        "arrives when the target is near",
        left.at_most(rate).implies(next.same(wanted)),
    );
    claim(
        "else comes nearer by the whole rate",
        rate.less(left)
            .implies((wanted - next).magnitude().same(left - rate)),
    );
    claim("order", next.at_most(ramp(above, higher)));
}
