//! The fault campaign on the demo designs, and that it notices a station that does not keep its promises.

use controller_core::guard::stale::StaleConfig;
use controller_core::guard::trip::TripConfig;
use host_harness::build;
use host_harness::design::{self, Design};
use host_harness::faults::{Campaign, run_campaign_with};
use host_harness::plan::{DrivePlan, Plan};
use std::path::Path;

fn load(name: &str) -> Design {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../host-harness/designs")
        .join(name);
    design::load(&path).unwrap_or_else(|error| panic!("{error}"))
}

fn run(design: &Design, cases: usize, change: impl FnOnce(&mut Plan)) -> Campaign {
    let table = build::table(&design.sensing).expect("a demo design has a table");
    let mut plan = Plan::new(design);
    change(&mut plan);
    run_campaign_with(
        design,
        plan,
        &|code| build::read(&table, code),
        cases,
        &|_| {},
    )
}

fn row<'a>(campaign: &'a Campaign, fault: &str) -> &'a host_harness::faults::Row {
    campaign
        .faults
        .iter()
        .find(|row| row.fault == fault)
        .unwrap_or_else(|| panic!("no row {fault}"))
}

fn no_promise_is_broken(name: &str) {
    let design = load(name);
    let campaign = run(&design, 250, |_| {});
    assert_eq!(campaign.violations, 0, "{}", campaign.table());
    assert_eq!(campaign.healthy, None);
    assert!(campaign.cases >= 250);
    assert!(
        campaign.worst_celsius <= campaign.hard_limit_celsius,
        "{}",
        campaign.table()
    );
    assert_eq!(
        campaign.hard_limit_celsius,
        design.control.accept.hard_limit_celsius
    );
    assert_eq!(
        campaign.cases,
        campaign.faults.iter().map(|row| row.cases).sum::<usize>()
    );
    // an actuator that does not obey is never a pass, and is there in every design
    let disobeying: usize = campaign
        .faults
        .iter()
        .filter(|r| {
            ["blocked", "stuck on", "heater open"]
                .iter()
                .any(|w| r.fault.contains(w))
        })
        .map(|r| r.cases)
        .sum();
    assert!(disobeying > 0 && campaign.unobservable >= disobeying);
    for name in [
        "sensor wire open",
        "sensor shorted",
        "samples missing",
        "brown-out, restart",
        "bit flip in settings",
    ] {
        let row = row(&campaign, name);
        assert_eq!(row.unobservable, 0, "{name}");
        assert_eq!(row.recovered, row.passing, "{name}");
    }
    assert_eq!(
        row(&campaign, "output clock stopped").made_safe,
        row(&campaign, "output clock stopped").cases,
        "the watchdog bites"
    );
}

#[test]
fn the_rack_keeps_its_promises() {
    no_promise_is_broken("studio-rack.toml");
}

/// The tachometer finds a held rotor and a broken wire within its stated time; the fan without one is left to the
/// guard that sees no effect, and none of these cases is a pass when the fan does not obey.
#[test]
fn a_held_rotor_is_found_by_its_tachometer() {
    let design = load("studio-rack.toml");
    let campaign = run(&design, 250, |_| {});
    // by hand: 3 x 6 windows before the pushes and the alarm, each of 2 pushes lasting 2 s and a window that does
    // not count, half a second each, and the rotor running down for 5 s
    let stated = (3.0 * 6.0 + 2.0 * 2.0 + 2.0) * 0.5 + 2.0 * 2.0 + 5.0;
    for fault in [
        "watched fan blocked",
        "all fans blocked",
        "tachometer wire open",
    ] {
        let row = row(&campaign, fault);
        assert!(row.cases > 0);
        assert_eq!(row.made_safe, row.cases, "{}", campaign.table());
        assert!(row.safe_after_s.is_some_and(|s| s <= stated), "{row:?}");
        assert_eq!(row.stated_s, Some(stated));
    }
    let other = row(&campaign, "other fan blocked");
    assert!(other.cases > 0);
    assert_eq!(other.unobservable, other.cases, "never a pass");
    // without the wire, nothing finds one held rotor of two while the other keeps the rack cool
    let deaf = run(&design, 250, |plan| {
        if let DrivePlan::Fans(drive) = &mut plan.drive {
            drive.tachometer = None;
        }
    });
    assert_eq!(row(&deaf, "watched fan blocked").made_safe, 0);
}

#[test]
fn the_tray_keeps_its_promises() {
    no_promise_is_broken("seedling-tray.toml");
}

#[test]
fn the_kettle_keeps_its_promises() {
    no_promise_is_broken("brew-kettle.toml");
}

#[test]
fn a_campaign_is_the_same_every_time_and_has_the_stated_keys() {
    let design = load("brew-kettle.toml");
    let (first, second) = (run(&design, 150, |_| {}), run(&design, 150, |_| {}));
    assert_eq!(first, second);
    let json = serde_json::to_value(&first).unwrap();
    for key in [
        "cases",
        "violations",
        "unobservable",
        "worst_celsius",
        "hard_limit_celsius",
    ] {
        assert!(json[key].is_number(), "{key}");
    }
}

/// A guard put out of action: the campaign must say so, in degrees.
#[test]
fn a_station_that_never_finds_a_sample_missing_is_found_out() {
    let mut design = load("brew-kettle.toml");
    // the longest a guard can be put off is eleven minutes: two kelvin in this kettle
    design.control.accept.hard_limit_celsius = 74.2;
    assert_eq!(run(&design, 400, |_| {}).violations, 0);
    let campaign = run(&design, 400, |plan| {
        plan.guards.stale = StaleConfig::constant(u16::MAX)
    });
    let missing = row(&campaign, "samples missing");
    assert!(missing.violations > 0, "{}", campaign.table());
    assert!(
        missing.worst_celsius > campaign.hard_limit_celsius,
        "the heater stayed on"
    );
    assert!(missing.reasons[0].contains("degC"), "{:?}", missing.reasons);
    assert!(campaign.table().contains("broken: samples missing"));
}

/// Without its guard, a stuck code is a plausible reading false beyond any drift: unobservable, and hot.
#[test]
fn a_stuck_code_without_its_guard_is_unobservable_and_not_a_pass() {
    let design = load("brew-kettle.toml");
    let with = run(&design, 400, |_| {});
    let without = run(&design, 400, |plan| plan.guards.stuck = None);
    let (with, hot) = (row(&with, "code stuck"), row(&without, "code stuck"));
    assert!(with.worst_celsius < without.hard_limit_celsius);
    assert!(hot.worst_celsius > without.hard_limit_celsius);
    assert!(hot.unobservable > with.unobservable);
    assert!(
        without.worst_celsius <= without.hard_limit_celsius,
        "not among the cases that count as passed"
    );
}

/// A trip half a degree above the set point, which the scenario itself then raises.
#[test]
fn an_alarm_without_a_fault_is_a_violation() {
    let design = load("brew-kettle.toml");
    let campaign = run(&design, 60, |plan| {
        let half = 1 << (plan.fraction_bits - 1);
        plan.guards.trip = TripConfig::constant(plan.set_point + half, half, 2);
    });
    assert!(
        campaign
            .healthy
            .as_deref()
            .is_some_and(|why| why.contains("Trip")),
        "{:?}",
        campaign.healthy
    );
    assert!(campaign.violations > 0);
}
