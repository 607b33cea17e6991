use super::{
    TimeProportional, TimeProportionalConfig, TimeProportionalError, TimeProportionalParts, Unit,
};
use crate::duty::Duty;
use core::mem::size_of;

const fn parts(window: u16, min_on: u16, min_off: u16, unit: Unit) -> TimeProportionalParts {
    TimeProportionalParts {
        window,
        min_on,
        min_off,
        unit,
    }
}

#[test]
fn state_is_at_most_twelve_bytes() {
    // 10 on a target that aligns i32 to 2 bytes
    assert_eq!(size_of::<TimeProportional>(), 12);
}

/// Every duty on a grid, several windows and minimum times: the sum of on-time stays within the
/// stated bound of the ideal after every window, no on or off run is shorter than its minimum,
/// and whole cycles come in pairs.
#[test]
fn no_average_is_lost_and_no_run_is_short() {
    let mut cases = 0;
    for shape in [
        parts(2, 0, 0, Unit::Tick),
        parts(2, 1, 1, Unit::Tick),
        parts(7, 2, 3, Unit::Tick),
        parts(100, 0, 0, Unit::Tick),
        parts(100, 30, 20, Unit::Tick),
        parts(100, 0, 100, Unit::Tick),
        parts(100, 100, 0, Unit::Tick),
        parts(100, 0, 0, Unit::WholeCycle),
        parts(100, 10, 20, Unit::WholeCycle),
        parts(600, 50, 70, Unit::Tick),
    ] {
        let config = TimeProportionalConfig::constant(shape);
        let bound = i64::from(shape.min_on.max(shape.min_off).max(2));
        for bits in (0..=32_767)
            .step_by(411)
            .chain([1, 2, 16_384, 32_766, 32_767])
        {
            let mut switch = TimeProportional::new();
            switch.demand(Duty::constant(bits));
            let (mut given, mut run, mut was) = (0_i64, 0_u32, None);
            for window in 1..=60_i64 {
                for _ in 0..shape.window {
                    let on = switch.tick(&config);
                    given += i64::from(on);
                    if was == Some(on) {
                        run += 1;
                        continue;
                    }
                    if let Some(before) = was {
                        let least = if before { shape.min_on } else { shape.min_off };
                        assert!(run >= u32::from(least), "{shape:?} {bits}: ran {run}");
                        if shape.unit == Unit::WholeCycle {
                            assert_eq!(run % 2, 0, "{shape:?} {bits}");
                        }
                    }
                    (run, was) = (1, Some(on));
                }
                let ideal = window * i64::from(shape.window) * i64::from(bits);
                let error = ideal - given * 32_767;
                assert!(
                    error.abs() <= bound * 32_767,
                    "{shape:?} {bits} at {window}"
                );
                assert_eq!(
                    error,
                    i64::from(switch.carried),
                    "what is missing is carried"
                );
            }
            cases += 1;
        }
    }
    assert_eq!(cases, 10 * 85);
}

/// With every carried value the bound allows (on a grid, ends included) and any duty, one window
/// leads back into the bound: so the bound holds for ever, whatever the sequence of duties.
#[test]
fn the_carried_bound_is_inductive() {
    let mut cases = 0;
    for shape in [
        parts(2, 1, 1, Unit::Tick),
        parts(100, 30, 20, Unit::Tick),
        parts(100, 10, 20, Unit::WholeCycle),
        parts(16_383, 16_383, 0, Unit::Tick),
        parts(16_383, 0, 16_383, Unit::Tick),
        parts(16_382, 8_000, 8_000, Unit::WholeCycle),
    ] {
        let (low, high) = (
            -i32::from(shape.min_off) * 32_767,
            i32::from(shape.min_on.max(2)) * 32_767,
        );
        for part in 0..=1_000 {
            let carried = low + ((i64::from(high) - i64::from(low)) * part / 1_000) as i32;
            for bits in [0, 1, 100, 16_383, 16_384, 30_000, 32_766, 32_767] {
                let mut switch = TimeProportional {
                    carried,
                    duty: Duty::constant(bits),
                    on_left: 0,
                    left: 0,
                };
                switch.begin_window(&shape);
                assert!(
                    (low..=high).contains(&switch.carried),
                    "{shape:?} {bits} from {carried}: {}",
                    switch.carried
                );
                assert!(switch.on_left <= shape.window);
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 6 * 1_001 * 8);
}

#[test]
fn the_shortest_on_and_off_times_themselves_are_allowed() {
    let config = TimeProportionalConfig::constant(parts(7, 2, 3, Unit::Tick));
    // a duty of exactly so many sevenths, as near as the word allows from above
    for (sevenths, on) in [(2_i32, 2), (4, 4)] {
        let mut switch = TimeProportional::new();
        switch.demand(Duty::constant((sevenths * 32_767 / 7 + 1) as i16));
        assert_eq!((0..7).filter(|_| switch.tick(&config)).count(), on);
    }
}

#[test]
fn the_ends_switch_nothing() {
    let config = TimeProportionalConfig::constant(parts(50, 5, 5, Unit::Tick));
    let mut switch = TimeProportional::new();
    switch.demand(Duty::FULL);
    assert!((0..500).all(|_| switch.tick(&config)));
    switch.demand(Duty::OFF);
    assert!(!(0..500).any(|_| switch.tick(&config)));
}

#[test]
fn safe_is_off_at_once_and_keeps_the_minimum_off_time() {
    let config = TimeProportionalConfig::constant(parts(50, 20, 20, Unit::Tick));
    for ticks in 0..120 {
        let mut switch = TimeProportional::new();
        switch.demand(Duty::fraction(0.7));
        for _ in 0..ticks {
            switch.tick(&config);
        }
        switch.safe(&config);
        assert_eq!(switch.duty(), Duty::OFF);
        switch.demand(Duty::FULL);
        let off = (0..1_000).take_while(|_| !switch.tick(&config)).count();
        assert!((20..=50).contains(&off), "after {ticks}: off for {off}");
    }
}

#[test]
fn refusals_name_what_is_wrong() {
    use TimeProportionalError as E;
    for (shape, error) in [
        (parts(1, 0, 0, Unit::Tick), E::Window),
        (parts(16_384, 0, 0, Unit::Tick), E::Window),
        (parts(10, 11, 0, Unit::Tick), E::MinimumTimes),
        (parts(10, 5, 6, Unit::Tick), E::MinimumTimes),
        (parts(11, 2, 2, Unit::WholeCycle), E::OddTimes),
        (parts(10, 1, 2, Unit::WholeCycle), E::OddTimes),
    ] {
        assert_eq!(TimeProportionalConfig::new(shape), Err(error));
    }
}

#[test]
fn refusals_say_what_would_be_accepted() {
    for (refused, words) in [
        (
            parts(1, 0, 0, Unit::Tick),
            "time-proportional: window out of range; accepted: 2 ..= 16383 ticks",
        ),
        (
            parts(10, 6, 5, Unit::Tick),
            "time-proportional: minimum on and off times exceed the window; accepted: min_on + min_off <= window",
        ),
        (
            parts(10, 3, 2, Unit::WholeCycle),
            "time-proportional: odd number of half-cycles; accepted with whole cycles: even window, min_on, min_off",
        ),
    ] {
        let error = TimeProportionalConfig::new(refused).unwrap_err();
        assert_eq!(error.message(), words);
    }
}
