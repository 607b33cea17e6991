//! Faults as the firmware meets them: thresholds and hysteresis of `sensor-math`, confirmation of `controller-core`.

use controller_core::guard::sensor::{SensorConfig, SensorGuard};
use proptest::prelude::*;
use sensor_math::fault::{FaultCode, Limits};
use sensor_math::table::Uniform;
use sensor_math::thermometer::Thermometer;

const LIMITS: Limits = Limits::new(182, 931, 91, 977);
/// What `hushloop build` emits.
const CONFIG: SensorConfig = SensorConfig::constant(4, 8);

/// Confirmed faults that begin over codes, with or without hysteresis.
fn faults(codes: impl Iterator<Item = u16>, hysteresis: bool) -> u32 {
    let mut guard = SensorGuard::new();
    let mut begun = 0;
    for code in codes {
        let before = guard.faulty();
        let fault = LIMITS.fault_after(code, hysteresis && before);
        guard.sample(&CONFIG, fault.is_none());
        begun += u32::from(guard.faulty() && !before);
    }
    begun
}

/// A reading that hovers at either end of the range, with noise of a few codes, for a day at two samples a second:
/// one fault, where thresholds without hysteresis come and go.
#[test]
fn a_reading_that_hovers_at_an_end_does_not_flap() {
    for end in [LIMITS.first(), LIMITS.last()] {
        let hover = || {
            let mut k = 1_u32;
            (0..172_800).map(move |_| {
                k = k.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                end - 4 + (k >> 29) as u16 // end - 4 ..= end + 3
            })
        };
        assert_eq!(faults(hover(), true), 1, "at {end}");
        let without = faults(hover(), false);
        assert!(without > 100, "at {end}: {without}");
    }
}

/// And it ends where the reading is really back.
#[test]
fn a_fault_ends_with_readings_well_within_the_range() {
    let margin = LIMITS.hysteresis();
    assert_eq!(margin, 749 / 64);
    for back in [LIMITS.first() + margin, LIMITS.last() - margin] {
        let mut guard = SensorGuard::new();
        for _ in 0..CONFIG.confirm() {
            guard.sample(&CONFIG, LIMITS.fault_after(0, guard.faulty()).is_none());
        }
        assert!(guard.faulty());
        for _ in 0..CONFIG.recover() {
            assert!(guard.faulty());
            guard.sample(&CONFIG, LIMITS.fault_after(back, guard.faulty()).is_none());
        }
        assert!(!guard.faulty());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    /// Every code of any limits: hysteresis takes codes at the ends of the range and no others, leaves at least half
    /// of the range, and the thermometer says the same.
    #[test]
    fn hysteresis_narrows_the_range_and_nothing_else(
        low in 0u16..2000, gap in 1u16..3000, span in 0u16..40_000, above in 1u16..3000,
    ) {
        let (first, last) = (low + gap, low + gap + span);
        let limits = Limits::new(first, last, low, last + above);
        let margin = limits.hysteresis();
        prop_assert!(u32::from(margin) * 4 <= u32::from(span));
        let table = Uniform::<[i16; 2], 15, fixed::types::extra::U7>::from_knots(first, first + 1, [0, 100]);
        let probe = Thermometer::new(table, limits);
        let mut narrowed = 0_u32;
        for code in 0..=u16::MAX {
            let plain = limits.fault(code);
            prop_assert_eq!(limits.fault_after(code, false), plain);
            let after = limits.fault_after(code, true);
            if plain.is_some() {
                prop_assert_eq!(after, plain);
            } else {
                let inside = code >= first + margin && code <= last - margin;
                prop_assert_eq!(after, (!inside).then_some(FaultCode::OutOfRange));
                narrowed += u32::from(!inside);
            }
            prop_assert_eq!(probe.read_after(code, true).err(), after);
            prop_assert_eq!(probe.read(code).err(), plain);
        }
        prop_assert_eq!(narrowed, 2 * u32::from(margin));
    }
}
