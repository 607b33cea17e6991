//! Every configuration that a design can get, with all that is proven of it.

use super::planted;
use super::property::{self, Halves, Whole};
use super::scope::{EITHER, HALVES, Scope, WHOLE};
use super::solve::Expect::Holds;
use super::solve::Property;
use super::{begins, either};
use controller_core::law::Action;
use std::collections::BTreeMap;

/// Gains for questions that must be satisfiable: a kelvin of error asks for a sixth of full duty.
#[must_use]
pub fn usual(bits: u32, sp: u32) -> BTreeMap<String, i128> {
    let kp = match bits {
        8 => 11_i128 << sp >> 2,
        16 => 1300_i128 << sp >> 8,
        _ => 332_800_i128 << sp >> 16,
    };
    let top = (1_i128 << bits) - 1;
    // Within the bound of kp + kd, or the assumptions contradict each other.
    let bound = ((1_i128 << (2 * bits - 1)) - (1 << (bits - 1 + sp))) / ((1 << (bits - 1)) - 1);
    [
        ("kp", kp.max(1).min(top.min(bound) / 2)),
        ("ki", (top / 100).max(1)),
        ("kd", (2 * kp).min(top.min(bound) / 3)),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_string(), value))
    .collect()
}

/// The statement on integers, where a replay is wanted: compiling it at every scale costs minutes.
#[macro_export]
#[doc(hidden)]
macro_rules! concrete {
    (replay, $call:expr) => {
        Some(Box::new(move || $call))
    };
    (plain, $call:expr) => {
        None
    };
}

/// Adds one property at one scale, for these actions: one is enough where the action plays no part.
#[macro_export]
#[doc(hidden)]
macro_rules! add_for {
    ($actions:expr, $list:ident, $replay:ident, $claim:expr, $expect:expr, $n:literal $machine:ty, $sp:literal, $module:ident :: $function:ident, [$($generic:tt),*], $tag:expr, $fixed:expr) => {
        for action in $actions {
            $list.push($crate::solve::Property {
                statement: stringify!($function),
                scope: $tag.at($n, $sp, action),
                claim: $claim,
                expect: $expect,
                fixed: $fixed,
                symbolic: Box::new(move || $module::$function::<$crate::symbol::Symbol<$n, true>, $sp, $($generic),*>(action)),
                concrete: $crate::concrete!($replay, $module::$function::<$machine, $sp, $($generic),*>(action)),
            });
        }
    };
}

/// Adds one property at one scale, for both actions.
#[macro_export]
#[doc(hidden)]
macro_rules! add {
    ($($what:tt)*) => {
        $crate::add_for!([controller_core::law::Action::Direct, controller_core::law::Action::Reverse], $($what)*)
    };
}

/// What is proven of a loop without its filter, at one scale. What is said with whole words holds for either comparison,
/// because `pi_either` and `absorb_either` do.
macro_rules! loops {
    ($list:ident, $replay:ident, $n:literal $machine:ty, $sp:literal) => {{
        let usual = || usual($n, $sp);
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, begins::begins, [], EITHER, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Halves], HALVES, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pi_exact, [Whole], WHOLE, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Halves], HALVES, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::clipping, [Whole], WHOLE, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, either::pi_either, [], EITHER, usual());
        add!($list, $replay, EXACT, Holds, $n $machine, $sp, either::absorb_either, [], EITHER, usual());
        add!($list, $replay, ORDER, Holds, $n $machine, $sp, property::pi_order, [Whole], EITHER, usual());
        add!($list, $replay, ABSORPTION, Holds, $n $machine, $sp, property::absorb_exact, [Whole], EITHER, usual());
        add!($list, $replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_bumpless, [Whole], EITHER, usual());
        add!($list, $replay, BUMPLESS, Holds, $n $machine, $sp, property::set_point_weighted, [Whole], EITHER, usual());
        add!($list, $replay, DEAD_ZONE, Holds, $n $machine, $sp, property::no_dead_zone, [Whole], EITHER, usual());
        add!($list, $replay, DEAD_ZONE, Holds, $n $machine, $sp, property::increments_compose, [], EITHER, usual());
        add!($list, $replay, SHAPE, Holds, $n $machine, $sp, property::shape, [Whole], EITHER, usual());
    }};
}

/// What is proven of a loop with a filter, at one scale.
macro_rules! filtered {
    ($list:ident, $replay:ident, $n:literal $machine:ty, $sp:literal, [$($k:literal),*]) => {
        $({
            let usual = || usual($n, $sp);
            add!($list, $replay, EXACT, Holds, $n $machine, $sp, begins::pid_begins, [$k], EITHER.filter($k), usual());
            add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [$k, Halves], HALVES.filter($k), usual());
            add!($list, $replay, EXACT, Holds, $n $machine, $sp, property::pid_exact, [$k, Whole], WHOLE.filter($k), usual());
            add!($list, $replay, EXACT, Holds, $n $machine, $sp, either::pid_either, [$k], EITHER.filter($k), usual());
            add!($list, $replay, BUMPLESS, Holds, $n $machine, $sp, begins::pid_bumpless, [$k, Whole], EITHER.filter($k), usual());
            add!($list, $replay, DEAD_ZONE, Holds, $n $machine, $sp, begins::pid_no_dead_zone, [$k, Whole], EITHER.filter($k), usual());
        })*
    };
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

/// The scales that a design can get.
pub const SCALES: [u32; 3] = [4, 8, 12];
/// The filters that a design can get, `K` of `2^K` samples.
pub const FILTERS: [u32; 8] = [1, 2, 3, 4, 5, 6, 7, 8];

/// What a design's loop is, as far as a proof must know it: the rest is any.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Configuration {
    /// `SP`.
    pub scale: u32,
    /// `K`; nothing for PI.
    pub filter: Option<u32>,
    /// Cooling or heating.
    pub action: Action,
}

/// The statements that a claim about such a loop rests on, whatever the comparison: a claim is proven when every one
/// of them is, for this very configuration.
#[must_use]
pub fn statements(claim: &str, with_filter: bool) -> &'static [&'static str] {
    match (claim, with_filter) {
        (EXACT, false) => &["pi_exact", "clipping", "begins"],
        (EXACT, true) => &["pid_exact", "clipping", "begins", "pid_begins"],
        (SHAPE, false) => &["shape", "pi_either"],
        (ORDER, false) => &["pi_order", "pi_either"],
        (BUMPLESS, false) => &[
            "set_point_bumpless",
            "set_point_weighted",
            "absorb_exact",
            "absorb_either",
            "pi_either",
        ],
        (BUMPLESS, true) => &[
            "pid_bumpless",
            "set_point_weighted",
            "absorb_exact",
            "absorb_either",
            "pid_either",
        ],
        (DEAD_ZONE, false) => &[
            "no_dead_zone",
            "pi_exact",
            "increments_compose",
            "pi_either",
        ],
        (DEAD_ZONE, true) => &[
            "pid_no_dead_zone",
            "pid_exact",
            "increments_compose",
            "pid_either",
        ],
        _ => &[],
    }
}

/// Statements that have a filter in them.
fn has_filter(statement: &str) -> bool {
    statement.starts_with("pid_")
}

/// Statements that are made of each comparison apart.
fn compares(statement: &str) -> bool {
    ["pi_exact", "pid_exact", "clipping"].contains(&statement)
}

impl Configuration {
    /// The scopes in which a statement must be known for this configuration: for either comparison, where it has one,
    /// as the target is not known.
    #[must_use]
    pub fn scopes(&self, statement: &str) -> Vec<Scope> {
        let tag = |tag: super::scope::Tag| {
            let tag = match self.filter {
                Some(k) if has_filter(statement) => tag.filter(k),
                _ => tag,
            };
            tag.at(16, self.scale, self.action)
        };
        if compares(statement) {
            vec![tag(HALVES), tag(WHOLE)]
        } else {
            vec![tag(EITHER)]
        }
    }

    /// The properties of this configuration, for these claims; nothing when one that they rest on is not there.
    #[must_use]
    pub fn properties(&self, claims: &[&str]) -> Option<Vec<Property>> {
        let mut wanted = Vec::new();
        for claim in claims {
            let of = statements(claim, self.filter.is_some());
            if of.is_empty() {
                return None;
            }
            for statement in of {
                for scope in self.scopes(statement) {
                    if !wanted.contains(&(*statement, scope)) {
                        wanted.push((*statement, scope));
                    }
                }
            }
        }
        let mut list = all();
        list.retain(|p| wanted.contains(&(p.statement, p.scope)));
        (list.len() == wanted.len()).then_some(list)
    }
}

/// Every property of every configuration that a design can get.
#[must_use]
pub fn all() -> Vec<Property> {
    let mut list = Vec::new();
    loops!(list, plain, 16 i16, 4);
    loops!(list, replay, 16 i16, 8);
    loops!(list, plain, 16 i16, 12);
    filtered!(list, plain, 16 i16, 4, [1, 2, 3, 4, 5, 6, 7, 8]);
    filtered!(list, plain, 16 i16, 8, [1, 2, 4, 5, 6, 7, 8]);
    filtered!(list, replay, 16 i16, 8, [3]);
    filtered!(list, plain, 16 i16, 12, [1, 2, 3, 4, 5, 6, 7, 8]);
    list
}

/// Some wrong laws, so that solvers that are asked about one design only have something to catch. The binary `prove`
/// has many more.
#[must_use]
pub fn controls() -> Vec<Property> {
    use super::solve::Expect::Fails;
    let mut list = Vec::new();
    let usual = || usual(16, 8);
    add!(list, replay, CONTROL, Fails, 16 i16, 8, planted::rounded_apart, [Whole], WHOLE, usual());
    add!(list, replay, CONTROL, Fails, 16 i16, 8, planted::clamped_before_increment, [Whole], WHOLE, usual());
    add!(list, replay, CONTROL, Fails, 16 i16, 8, planted::narrowed_before_clamp, [Halves], HALVES, usual());
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every claim of every configuration has all its statements, for either comparison.
    #[test]
    fn every_configuration_that_a_design_can_get_is_there() {
        let mut cases = 0;
        for scale in SCALES {
            for action in [Action::Direct, Action::Reverse] {
                for filter in FILTERS.map(Some).into_iter().chain([None]) {
                    let configuration = Configuration {
                        scale,
                        filter,
                        action,
                    };
                    let mut claims = vec![EXACT, BUMPLESS, DEAD_ZONE];
                    if filter.is_none() {
                        claims.extend([ORDER, SHAPE]);
                    }
                    assert!(
                        configuration.properties(&claims).is_some(),
                        "{configuration:?}"
                    );
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 3 * 2 * 9);
        // 14 of a scale, 6 of each filter, both actions.
        assert_eq!(all().len(), 2 * 3 * (14 + 8 * 6));
    }

    /// What is not in the catalogue is never taken for something that is.
    #[test]
    fn another_scale_or_filter_is_not_proven() {
        for (scale, filter) in [(5, None), (8, Some(9)), (16, Some(3))] {
            let other = Configuration {
                scale,
                filter,
                action: Action::Direct,
            };
            assert!(other.properties(&[EXACT]).is_none(), "{other:?}");
        }
    }
}
