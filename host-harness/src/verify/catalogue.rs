//! Every property at every width and scale, ready for the solvers.

use super::planted;
use super::property::{self, Halves, Whole, gain_sum_max};
use super::shapers;
use super::solve::{Expect, Property};
use super::switching;
use super::symbol::Symbol;
use super::variation;
use controller_core::law::Action;
use std::collections::BTreeMap;

/// Gains for questions that must be satisfiable: a kelvin of error asks for a sixth of full duty.
fn usual(bits: u32, sp: u32) -> BTreeMap<String, i128> {
    let kp = match bits {
        8 => 11_i128 << sp >> 2,
        16 => 1300_i128 << sp >> 8,
        _ => 332_800_i128 << sp >> 16,
    };
    let top = (1_i128 << bits) - 1;
    [
        ("kp", kp.max(1).min(top / 2)),
        ("ki", (top / 100).max(1)),
        ("kd", (2 * kp).min(top / 3)),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_string(), value))
    .collect()
}

/// The same with half those gains for a second loop.
fn usual_pair(bits: u32, sp: u32) -> BTreeMap<String, i128> {
    let mut fixed = usual(bits, sp);
    for (of, name) in [("kp", "kp2"), ("ki", "ki2"), ("kd", "kd2")] {
        fixed.insert(name.to_string(), fixed[of] / 2);
    }
    fixed
}

/// The statement on integers, where a replay is wanted: compiling it at every scale costs minutes.
macro_rules! concrete {
    (replay, $call:expr) => {
        Some(Box::new(move || $call))
    };
    (plain, $call:expr) => {
        None
    };
}

/// Adds one property at one scale, for both actions.
macro_rules! add {
    ($($what:tt)*) => { add_for!([Action::Direct, Action::Reverse], $($what)*) };
}

/// Adds one property at one scale, for these actions: one is enough where the action plays no part.
macro_rules! add_for {
    ($actions:expr, $list:ident, $replay:ident, $claim:expr, $expect:expr, $n:literal $machine:ty, $sp:literal, $module:ident :: $function:ident, [$($generic:tt),*], $tag:expr, $fixed:expr) => {
        for action in $actions {
            $list.push(Property {
                name: format!("{} {}/{} SP {}{} {action:?}", stringify!($function), $n, 2 * $n, $sp, $tag),
                claim: $claim,
                expect: $expect,
                fixed: $fixed,
                symbolic: Box::new(move || $module::$function::<Symbol<$n, true>, $sp, $($generic),*>(action)),
                concrete: concrete!($replay, $module::$function::<$machine, $sp, $($generic),*>(action)),
            });
        }
    };
}

/// What every scale is proven for.
macro_rules! at_scale {
    ($list:ident, $replay:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        use Expect::Holds;
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Halves], " halves", usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Whole], " whole", usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [3, Halves], " K 3 halves", usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [3, Whole], " K 3 whole", usual());
        add!($list, $replay, ORDER, Holds, $n $machine, $sp, property::pi_order, [Whole], "", usual());
    }};
}

/// What is proven at the scales that designs get, and at the ends.
macro_rules! at_usual_scale {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        use Expect::Holds;
        at_scale!($list, replay, $n $machine, $sp);
        add!($list, replay, ABSORPTION, Holds, $n $machine, $sp, property::absorb_exact, [Whole], "", usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_bumpless, [Whole], "", usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_weighted, [Whole], "", usual());
        add!($list, replay, DEAD_ZONE, Holds, $n $machine, $sp, property::no_dead_zone, [Whole], "", usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Halves], " halves", usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Whole], " whole", usual());
        add!($list, replay, SHAPE, Holds, $n $machine, $sp, property::shape, [Whole], "", usual());
    }};
}

macro_rules! filters {
    ($list:ident, $n:literal $machine:ty, $sp:literal, [$($k:literal),*]) => {
        $(add!($list, plain, EXACT, Expect::Holds, $n $machine, $sp, property::pid_exact, [$k, Whole], concat!(" K ", $k), usual($n, $sp));)*
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
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::narrowed_before_clamp, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::p_clamped_before_d, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::rounded_apart, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::excess_after_rounding, [Whole], "", tracked());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::truncated_increment, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::clamped_before_increment, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::turned_taken_for_high, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::gain_sum_one_above, [Whole], "", corner.clone());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::domain_inclusive, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::negative_gains, [Whole], "", BTreeMap::new());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::naive_weight, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::absorbed_clamped_terms, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::action_forgotten, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::minimum_of_the_other, [Whole], "", usual());
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::count_without_end, [Whole], "", usual());
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::row_without_hysteresis, [Whole], "", usual());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, planted::row_change_backwards, [Whole], "", usual_pair($n, $sp));
        add_for!([Action::Direct], $list, replay, CONTROL, Fails, $n $machine, $sp, planted::ramp_without_end, [Whole], "", usual());
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
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, variation::to_automatic, [Whole], "", usual());
        add!($list, replay, BUMPLESS, Holds, $n $machine, $sp, variation::to_gains, [Whole], "", usual());
        add!($list, replay, ABSORPTION, Holds, $n $machine, $sp, variation::feed_forward, [Whole], "", usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::conditional, [Whole], "", usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::tracking, [Whole], "", usual());
        add!($list, replay, WINDUP, Holds, $n $machine, $sp, variation::tracking_applied, [Whole], "", usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::spaced, [Whole], "", usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::smooth, [Whole], "", smooth());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::select, [Whole], "", usual());
        add!($list, replay, EXACT, Holds, $n $machine, $sp, variation::series, [Whole], "", usual());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::shapers, [Whole], "", usual());
        add_for!([Action::Direct], $list, replay, ORDER, Holds, $n $machine, $sp, shapers::ramp, [Whole], "", usual());
    }};
}

/// Two-position control and the rows of a schedule.
macro_rules! switching {
    ($list:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual_pair($n, $sp);
        use Expect::Holds;
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position, [false, Whole], " off", usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position, [true, Whole], " on", usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position_order, [false, Whole], " off", usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::two_position_order, [true, Whole], " on", usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [0, Whole], " row 0", usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [1, Whole], " row 1", usual());
        add_for!([Action::Direct], $list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_rows, [2, Whole], " row 2", usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_change, [0, Whole], " row 0", usual());
        add!($list, replay, SWITCHING, Holds, $n $machine, $sp, switching::schedule_change, [1, Whole], " row 1", usual());
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
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_conditional, [Whole], "", pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_tracking, [Whole], "", pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_derivative, [Whole], "", pinned());
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, variation::order_lost_manual, [Whole], "", pinned());
        let counted = || {
            let mut fixed = pinned();
            fixed.extend([("min_on".to_string(), 2), ("min_off".to_string(), 2), ("band".to_string(), 9)]);
            fixed
        };
        add!($list, replay, CONTROL, Fails, $n $machine, $sp, switching::order_lost_two_position, [Whole], "", counted());
    }};
}

/// No operation wraps; output and integrator within their limits; output within half an LSB.
pub const EXACT: &str =
    "exact: nothing wraps, limits hold, output within half an LSB of the exact law";
/// Order preservation.
pub const ORDER: &str = "order: a hotter history never yields less cooling (PI, static clamp)";
/// Absorption.
pub const ABSORPTION: &str = "absorption is exact";
/// Bumplessness.
pub const BUMPLESS: &str =
    "bumpless: no bump while the wanted integrator fits, else the nearest attainable";
/// No dead zone.
pub const DEAD_ZONE: &str = "no dead zone: the output moves within ceil(2^n / (ki |e|)) samples";
/// What threshold enumeration rests on.
pub const SHAPE: &str = "shape: output monotone in the integrator, next integrator of slope 0 or 1";
/// Other anti-windup.
pub const WINDUP: &str =
    "other anti-windup: integrator exact, the static law while the output is inside its limits";
/// What switches.
pub const SWITCHING: &str =
    "switching: two-position keeps its minimum times and its band, a schedule's row its hysteresis";
/// Wrong on purpose.
pub const CONTROL: &str = "control: a wrong order of operations is caught";

/// Every property. What is exact and in order at every scale of 16/32, three of 8/16 and five of 32/64; the rest
/// at the scales that designs get and at the ends; the wrong ones at one scale a width.
#[must_use]
pub fn all() -> Vec<Property> {
    let mut list = Vec::new();
    at_usual_scale!(list, 8 i8, 1);
    at_usual_scale!(list, 8 i8, 4);
    at_usual_scale!(list, 8 i8, 7);
    at_usual_scale!(list, 16 i16, 1);
    at_scale!(list, plain, 16 i16, 2);
    at_scale!(list, plain, 16 i16, 3);
    at_usual_scale!(list, 16 i16, 4);
    at_scale!(list, plain, 16 i16, 5);
    at_usual_scale!(list, 16 i16, 6);
    at_scale!(list, plain, 16 i16, 7);
    at_usual_scale!(list, 16 i16, 8);
    at_scale!(list, plain, 16 i16, 9);
    at_usual_scale!(list, 16 i16, 10);
    at_scale!(list, plain, 16 i16, 11);
    at_usual_scale!(list, 16 i16, 12);
    at_scale!(list, plain, 16 i16, 13);
    at_scale!(list, plain, 16 i16, 14);
    at_usual_scale!(list, 16 i16, 15);
    at_usual_scale!(list, 32 i32, 1);
    at_scale!(list, plain, 32 i32, 8);
    at_usual_scale!(list, 32 i32, 16);
    at_scale!(list, plain, 32 i32, 24);
    at_usual_scale!(list, 32 i32, 31);
    filters!(list, 16 i16, 8, [0, 1, 2, 4, 5, 6, 7, 8, 10, 12, 15]);
    filters!(list, 32 i32, 16, [0, 1, 8, 31]);
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
    // Needs no scale of its own.
    for action in [Action::Direct, Action::Reverse] {
        list.push(Property {
            name: format!("increments_compose 16/32 {action:?}"),
            claim: DEAD_ZONE,
            expect: Expect::Holds,
            fixed: usual(16, 8),
            symbolic: Box::new(move || property::increments_compose::<Symbol<16, true>, 8>(action)),
            concrete: Some(Box::new(move || {
                property::increments_compose::<i16, 8>(action)
            })),
        });
        list.push(Property {
            name: format!("increments_compose 32/64 {action:?}"),
            claim: DEAD_ZONE,
            expect: Expect::Holds,
            fixed: usual(32, 16),
            symbolic: Box::new(move || {
                property::increments_compose::<Symbol<32, true>, 16>(action)
            }),
            concrete: Some(Box::new(move || {
                property::increments_compose::<i32, 16>(action)
            })),
        });
    }
    list
}
