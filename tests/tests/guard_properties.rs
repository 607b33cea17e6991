//! Guards with any configuration and any history: within their bounds, in their stated times, never a panic
//! (overflow checks are on).

use controller_core::duty::Duty;
use controller_core::guard::effect::{EffectConfig, EffectGuard};
use controller_core::guard::hunting::{HuntingConfig, HuntingGuard};
use controller_core::guard::rate::{RateConfig, RateGuard};
use controller_core::guard::sensor::{SensorConfig, SensorGuard, SensorVerdict};
use controller_core::guard::stale::{StaleConfig, StaleGuard};
use controller_core::guard::stuck::{StuckConfig, StuckGuard};
use controller_core::guard::trip::{TripConfig, TripGuard};
use proptest::prelude::*;

fn duty() -> impl Strategy<Value = Duty> {
    (0..=Duty::ONE).prop_map(Duty::constant)
}

proptest! {
    #[test]
    fn a_sensor_fault_needs_its_confirmation_and_then_holds(
        confirm in 1..=9_u8, recover in 1..=9_u8, history in prop::collection::vec(any::<bool>(), 1..200),
    ) {
        let config = SensorConfig::new(confirm, recover).unwrap();
        let mut guard = SensorGuard::new();
        // the same from the whole history: the last run that was long enough decides
        let (mut bad, mut good, mut faulty) = (0_u32, 0_u32, false);
        for ok in history {
            (bad, good) = if ok { (0, good + 1) } else { (bad + 1, 0) };
            if bad >= u32::from(confirm) { faulty = true }
            if good >= u32::from(recover) { faulty = false }
            let verdict = guard.sample(&config, ok);
            let expected = match (faulty, ok) {
                (true, _) => SensorVerdict::Fault,
                (false, true) => SensorVerdict::Use,
                (false, false) => SensorVerdict::Hold,
            };
            prop_assert_eq!(verdict, expected);
        }
    }

    #[test]
    fn what_the_rate_guard_accepts_moves_no_faster_than_its_limit(
        limit in 1..=i16::MAX, readings in prop::collection::vec(any::<i16>(), 1..200),
    ) {
        let config = RateConfig::new(limit).unwrap();
        let mut guard = RateGuard::new();
        let mut last: Option<(i16, i64)> = None;
        for (at, reading) in (0_i64..).zip(readings) {
            let accepted = guard.plausible(&config, reading);
            if let Some((before, then)) = last {
                let allowed = (i64::from(limit) * (at - then)).min(65_535);
                prop_assert_eq!(accepted, i64::from(reading).abs_diff(before.into()) as i64 <= allowed);
            } else {
                prop_assert!(accepted);
            }
            if accepted { last = Some((reading, at)) }
        }
    }

    #[test]
    fn a_trip_stays_until_it_is_reset_and_cool(
        trip in -30_000..=i16::MAX, hysteresis in 1..2_000_i16, confirm in 1..5_u8,
        events in prop::collection::vec((any::<i16>(), any::<bool>()), 1..200),
    ) {
        let config = TripConfig::new(trip, hysteresis, confirm).unwrap();
        let mut guard = TripGuard::new();
        let mut was = false;
        for (reading, press) in events {
            let now = guard.tripped(&config, reading);
            prop_assert!(now || !was, "released without a reset");
            if press {
                let armed = guard.reset(&config, reading);
                prop_assert_eq!(armed, !now || i32::from(reading) <= i32::from(trip) - i32::from(hysteresis));
            }
            was = guard.latched();
        }
    }

    #[test]
    fn a_missing_sample_is_noticed_at_the_tick_after_the_limit(limit in 1..=2_000_u16, before in 0..3_000_u32) {
        let config = StaleConfig::new(limit).unwrap();
        let mut guard = StaleGuard::new();
        for _ in 0..before { guard.tick(&config); }
        guard.sample(&config, 1);
        let noticed = (0_u32..).position(|_| guard.tick(&config)).unwrap();
        prop_assert_eq!(noticed, usize::from(limit));
    }

    #[test]
    fn any_history_keeps_every_guard_within_its_bounds(
        samples in 1..50_u16, travel in duty(), limit in 1..=HuntingConfig::LIMIT_MAX, forget in 1..60_u16, detections in 1..=9_u8,
        level in duty(), response in 1..=i16::MAX, margin in 0..=i16::MAX,
        history in prop::collection::vec((any::<i16>(), duty()), 1..300),
    ) {
        let stuck = StuckConfig::new(samples, travel).unwrap();
        let hunting = HuntingConfig::new(limit, forget, detections).unwrap();
        let effect = EffectConfig::new(level, samples, response, margin).unwrap();
        let (mut a, mut b, mut c) = (StuckGuard::new(), HuntingGuard::new(), EffectGuard::new());
        let mut run = 0_u32;
        let mut last = None;
        let mut driven = 0_u32;
        for (word, duty) in history {
            // a third of the readings repeat
            let reading = if word % 3 == 0 { last.unwrap_or(word) } else { word };
            run = if last == Some(reading) { run + 1 } else { 0 };
            last = Some(reading);
            if a.stuck(&stuck, reading, duty) {
                prop_assert!(run >= u32::from(samples) || reading == 0, "stuck after {run}");
            }
            b.hunting(&hunting, reading);
            driven = if duty >= level && reading > margin { driven + 1 } else { 0 };
            let before = c.active();
            if c.without_effect(&effect, reading, duty) && !before {
                prop_assert!(driven > u32::from(samples), "without effect after {driven}");
            }
        }
    }
}
