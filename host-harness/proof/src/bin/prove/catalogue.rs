//! Every property at every width and scale, ready for the solvers.

use crate::{shapers, switching, variation};
use controller_core::law::Action;
use hushloop_proof::designs::{
    ABSORPTION, BUMPLESS, CONTROL, DEAD_ZONE, EXACT, ORDER, SHAPE, SWITCHING, WINDUP, usual,
};
use hushloop_proof::property::{self, Halves, Whole, gain_sum_max};
use hushloop_proof::scope::{EITHER, HALVES, WHOLE};
use hushloop_proof::solve::{Expect, Property};
use hushloop_proof::{add, add_for, begins, designs, planted};
use std::collections::BTreeMap;

/// The same with half those gains for a second loop.
fn usual_pair(bits: u32, sp: u32) -> BTreeMap<String, i128> {
    let mut fixed = usual(bits, sp);
    for (of, name) in [("kp", "kp2"), ("ki", "ki2"), ("kd", "kd2")] {
        fixed.insert(name.to_string(), fixed[of] / 2);
    }
    fixed
}

/// What every scale is proven for.
macro_rules! at_scale {
    ($list:ident, $replay:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        use Expect::Holds;
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Halves], HALVES, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Whole], WHOLE, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [3, Halves], HALVES.filter(3), usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [3, Whole], WHOLE.filter(3), usual());
        add!($list, $replay, ORDER, Holds, $n $machine, $sp, property::pi_order, [Whole], WHOLE, usual());
    }};
}

/// What is proven at the scales that designs get, and at the ends.
macro_rules! at_usual_scale {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        use Expect::Holds;
        at_scale!($list, replay, $n $machine, $sp);
        add!($list, replay, ABSORPTION, Holds, $n $machine, $sp, property::absorb_exact, [Whole], WHOLE, usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_bumpless, [Whole], WHOLE, usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_weighted, [Whole], WHOLE, usual());
        add!($list, replay, DEAD_ZONE, Holds, $n $machine, $sp, property::no_dead_zone, [Whole], WHOLE, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Halves], HALVES, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Whole], WHOLE, usual());
        add!($list, replay, SHAPE, Holds, $n $machine, $sp, property::shape, [Whole], WHOLE, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, begins::begins, [], EITHER, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, begins::pid_begins, [3], EITHER.filter(3), usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, begins::pid_bumpless, [3, Whole], WHOLE.filter(3), usual());
        add!($list, replay, DEAD_ZONE, Holds, $n $machine, $sp, begins::pid_no_dead_zone, [3, Whole], WHOLE.filter(3), usual());
    }};
}

macro_rules! filters {
    ($list:ident, $n:literal $machine:ty, $sp:literal, [$($k:literal),*]) => {
        $(add!($list, plain, EXACT, Expect::Holds, $n $machine, $sp, property::pid_exact, [$k, Whole], WHOLE.filter($k), usual($n, $sp));)*
    };
}

macro_rules! planted {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        let tracked = || {
            let mut fixed = usual();
            fixed.insert("kt".to_string(), 1 << ($n - 1));
            fixed
        };
        let bound = gain_sum_max::<$machine, $sp>();
        let corner: BTreeMap<String, i128> =
            [("kp".to_string(), bound / 2), ("kd".to_string(), bound + 1 - bound / 2)].into_iter().collect();
        use Expect::Fails;
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::narrowed_before_clamp, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::p_clamped_before_d, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::rounded_apart, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::excess_after_rounding, [Whole], WHOLE, tracked());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::truncated_increment, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::clamped_before_increment, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::turned_taken_for_high, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::gain_sum_one_above, [Whole], WHOLE, corner.clone());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::domain_inclusive, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::negative_gains, [Whole], WHOLE, BTreeMap::new());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::naive_weight, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::absorbed_clamped_terms, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::action_forgotten, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::minimum_of_the_other, [Whole], WHOLE, usual());
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::count_without_end, [Whole], WHOLE, usual());
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::row_without_hysteresis, [Whole], WHOLE, usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::row_change_backwards, [Whole], WHOLE, usual_pair($n, $sp));
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::ramp_without_end, [Whole], WHOLE, usual());
    }};
}

macro_rules! variations {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || {
            let mut fixed = usual($n, $sp);
            fixed.insert("kt".to_string(), 1 << ($n - 3));
            fixed.insert("kp2".to_string(), fixed["kp"] / 2);
            fixed.insert("kd2".to_string(), fixed["kd"] / 3);
            fixed
        };
        let smooth = || {
            let mut fixed = usual();
            fixed.insert("a".to_string(), 1 << ($n - 3));
            fixed
        };
        use Expect::Holds;
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, variation::to_automatic, [Whole], WHOLE, usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, variation::to_gains, [Whole], WHOLE, usual());
        add!($list, replay, ABSORPTION, Holds, $n $machine, $sp, variation::feed_forward, [Whole], WHOLE, usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::conditional, [Whole], WHOLE, usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::tracking, [Whole], WHOLE, usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::tracking_applied, [Whole], WHOLE, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::spaced, [Whole], WHOLE, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::smooth, [Whole], WHOLE, smooth());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::select, [Whole], WHOLE, usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::series, [Whole], WHOLE, usual());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::shapers, [Whole], WHOLE, usual());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::ramp, [Whole], WHOLE, usual());
    }};
}

/// Two-position control and the rows of a schedule.
macro_rules! switching {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual_pair($n, $sp);
        use Expect::Holds;
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position, [false, Whole], WHOLE.case("off"), usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position, [true, Whole], WHOLE.case("on"), usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position_order, [false, Whole], WHOLE.case("off"), usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position_order, [true, Whole], WHOLE.case("on"), usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [0, Whole], WHOLE.case("row 0"), usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [1, Whole], WHOLE.case("row 1"), usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [2, Whole], WHOLE.case("row 2"), usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_change, [0, Whole], WHOLE.case("row 0"), usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_change, [1, Whole], WHOLE.case("row 1"), usual());
    }};
}

/// What loses order, shown to lose it.
macro_rules! order_lost {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        // One set point and the whole duty: enough for a counterexample, and few paths.
        let pinned = || {
            let mut fixed = usual($n, $sp);
            fixed.extend([("r".to_string(), 0), ("lo".to_string(), 0), ("hi".to_string(), (1 << ($n - 1)) - 1)]);
            fixed
        };
        use Expect::Fails;
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_conditional, [Whole], WHOLE, pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_tracking, [Whole], WHOLE, pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_derivative, [Whole], WHOLE, pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_manual, [Whole], WHOLE, pinned());
        let counted = || {
            let mut fixed = pinned();
            fixed.extend([("min_on".to_string(), 2), ("min_off".to_string(), 2), ("band".to_string(), 9)]);
            fixed
        };
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, switching::order_lost_two_position, [Whole], WHOLE, counted());
    }};
}

/// Every property. What is exact and in order at every scale of 16/32, three of 8/16 and five of 32/64; the rest
/// at the scales that designs get and at the ends; the wrong ones at one scale a width.
#[must_use]
pub fn all() -> Vec<Property> {
    let mut list = designs::all();
    at_usual_scale!(list, 8 i8, 1);
    at_usual_scale!(list, 8 i8, 4);
    at_usual_scale!(list, 8 i8, 7);
    at_usual_scale!(list, 16 i16, 1);
    at_scale!(list, plain, 16 i16, 2);
    at_scale!(list, plain, 16 i16, 3);
    at_scale!(list, plain, 16 i16, 5);
    at_usual_scale!(list, 16 i16, 6);
    at_scale!(list, plain, 16 i16, 7);
    at_scale!(list, plain, 16 i16, 9);
    at_usual_scale!(list, 16 i16, 10);
    at_scale!(list, plain, 16 i16, 11);
    at_scale!(list, plain, 16 i16, 13);
    at_scale!(list, plain, 16 i16, 14);
    at_usual_scale!(list, 16 i16, 15);
    at_usual_scale!(list, 32 i32, 1);
    at_scale!(list, plain, 32 i32, 8);
    at_usual_scale!(list, 32 i32, 16);
    at_scale!(list, plain, 32 i32, 24);
    at_usual_scale!(list, 32 i32, 31);
    filters!(list, 16 i16, 8, [0, 9, 10, 11, 12, 13, 14, 15, 16, 17]);
    filters!(list, 32 i32, 16, [0, 1, 8, 31, 33]);
    planted!(list, 8 i8, 4);
    planted!(list, 16 i16, 8);
    planted!(list, 32 i32, 16);
    variations!(list, 8 i8, 4);
    variations!(list, 16 i16, 8);
    variations!(list, 32 i32, 16);
    switching!(list, 8 i8, 4);
    switching!(list, 16 i16, 8);
    switching!(list, 32 i32, 16);
    order_lost!(list, 16 i16, 8);
    add!(list, replay, DEAD_ZONE, Expect::Holds, 32 i32, 16, property::increments_compose, [], EITHER, usual(32, 16));
    list
}
