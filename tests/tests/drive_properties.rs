//! The drives on simulated fans and switches, with random and listed inputs.

use controller_core::drive::dither::{Dither, DitherConfig, Polarity};
use controller_core::drive::fan::{Fan, FanConfig, FanParts, Phase, Slew, SpinUp, Stop};
use controller_core::drive::fans::FansConfig;
use controller_core::drive::output::{Drive, FanDrive, FanDriveConfig};
use controller_core::drive::time_proportional::{
    TimeProportional, TimeProportionalConfig, TimeProportionalParts, Unit,
};
use controller_core::drive::wiring::Wiring;
use controller_core::duty::Duty;
use host_harness::plant::fan::Fan as Rotor;
use proptest::prelude::*;

fn duty() -> impl Strategy<Value = Duty> {
    (0..=Duty::ONE).prop_map(Duty::constant)
}

/// Timer periods: all of them, the ends and the awkward ones more often.
fn top() -> impl Strategy<Value = u16> {
    prop_oneof![
        16..=u16::MAX,
        Just(16),
        Just(17),
        Just(u16::MAX),
        Just(u16::MAX - 1),
        16..=64_u16
    ]
}

proptest! {
    #[test]
    fn the_dither_s_sum_is_never_a_clock_away(top in top(), duties in prop::collection::vec(duty(), 1..60), floor in 0..=Duty::ONE) {
        let floor = Duty::constant(floor);
        let config = DitherConfig::new(top, floor, Polarity::ActiveHigh).unwrap();
        let from = config.exact_from();
        let mut dither = Dither::new();
        let (mut given, mut asked) = (0_u64, 0_u64);
        for duty in duties {
            let duty = duty.max(from);
            dither.set(&config, duty);
            let code = dither.tick(&config);
            prop_assert!((config.floor_code()..=top).contains(&code));
            given += u64::from(code) * 32_767;
            asked += duty.bits() as u64 * u64::from(top);
            prop_assert!(asked - given < 32_767, "{asked} {given}");
        }
    }

    #[test]
    fn a_duty_below_the_floor_never_reaches_the_pin(top in top(), floor in 1..=Duty::ONE, bits in 1..=Duty::ONE) {
        let floor = Duty::constant(floor);
        let config = DitherConfig::new(top, floor, Polarity::ActiveHigh).unwrap();
        let mut dither = Dither::new();
        dither.set(&config, Duty::constant(bits));
        for _ in 0..40 {
            // code / top >= floor / ONE, exactly
            let code = dither.tick(&config);
            prop_assert!(u64::from(code) * 32_767 >= floor.bits() as u64 * u64::from(top));
        }
    }

    #[test]
    fn a_fan_is_off_or_at_its_floor_and_slews(
        floor in 1..=Duty::ONE, level in 0..=Duty::ONE, ticks in 0..5_u16, rise in 1..=Duty::ONE, fall in 1..=Duty::ONE,
        stop in prop::option::of((0..20_000_i16, 1..12_000_i16)),
        events in prop::collection::vec((duty(), 0..3_u32, any::<bool>()), 1..80),
    ) {
        let floor = Duty::constant(floor);
        let config = FanConfig::new(FanParts {
            floor,
            spin_up: SpinUp { level: Duty::constant(level).max(floor), ticks },
            stop: stop.map_or(Stop::Never, |(stop, gap)| Stop::Below { stop: Duty::constant(stop), start: Duty::constant(stop + gap) }),
            airflow: None,
            slew: Slew { rise, fall },
        }).unwrap();
        let mut fan = Fan::new();
        let mut last: Option<Duty> = None;
        for (demand, between, fault) in events {
            if fault {
                fan.safe(&config);
                prop_assert_eq!(fan.tick(&config), Duty::FULL);
                last = None;
                continue;
            }
            fan.demand(&config, demand);
            for _ in 0..between {
                let duty = fan.tick(&config);
                match fan.phase() {
                    Phase::Stopped => prop_assert_eq!(duty, Duty::OFF),
                    _ => prop_assert!(duty >= floor || duty == Duty::OFF),
                }
            }
            if fan.phase() == Phase::Running {
                let now = fan.applied(&config);
                if let Some(last) = last {
                    let moved = i32::from(now.bits()) - i32::from(last.bits());
                    prop_assert!(-i32::from(fall) <= moved && moved <= i32::from(rise), "{}", moved);
                }
                last = Some(now);
            } else {
                last = None;
            }
        }
    }

    #[test]
    fn no_demand_is_lost_by_a_switch(
        window in 2..2_000_u16, on in 0.0..0.5, off in 0.0..0.5, whole in any::<bool>(),
        duties in prop::collection::vec(duty(), 1..40),
    ) {
        let even = |x: u16| if whole { x & !1 } else { x };
        let window = even(window).max(2);
        let parts = TimeProportionalParts {
            window,
            min_on: even((f64::from(window) * on) as u16),
            min_off: even((f64::from(window) * off) as u16),
            unit: if whole { Unit::WholeCycle } else { Unit::Tick },
        };
        let config = TimeProportionalConfig::new(parts).unwrap();
        let bound = 32_767 * i64::from(parts.min_on.max(parts.min_off).max(2));
        let mut switch = TimeProportional::new();
        let mut owed = 0_i64;
        for duty in duties {
            switch.demand(duty);
            let on = (0..window).filter(|_| switch.tick(&config)).count();
            owed += i64::from(duty.bits()) * i64::from(window) - 32_767 * on as i64;
            prop_assert!(owed.abs() <= bound, "{owed} of {bound}");
        }
    }
}

/// A simulated rotor that stalls below its stall duty, driven tick by tick through drive and dither at many timer
/// periods: once started it never stops, whatever the demands, because no single code is below the floor.
#[test]
fn the_dither_never_stalls_a_fan_at_any_period() {
    let tops = [
        16, 17, 23, 32, 50, 64, 99, 100, 127, 128, 255, 256, 320, 640, 1_000, 4_095, 16_384,
        40_000, 65_534, 65_535,
    ];
    let mut cases = 0_u64;
    for top in tops {
        for floor in [0.06, 0.125, 0.2, 0.3333, 0.5] {
            let stall = Duty::fraction(floor);
            let config = FanDriveConfig::<1> {
                fans: FansConfig {
                    fans: [FanConfig::constant(FanParts {
                        floor: stall,
                        spin_up: SpinUp {
                            level: Duty::FULL,
                            ticks: 20,
                        },
                        stop: Stop::Never,
                        airflow: None,
                        slew: Slew {
                            rise: 2_000,
                            fall: 2_000,
                        },
                    })],
                    stagger: 0,
                },
                timer: DitherConfig::constant(top, stall, Polarity::ActiveHigh),
                tachometer: None,
                wiring: Wiring::FourWire,
            };
            let mut drive = FanDrive::<1>::at_rest();
            // it stalls at anything below its floor, and needs half as much again to start
            let mut rotor = Rotor::standing(
                0.5,
                f64::from(stall.bits()) / 32_767.0,
                (1.5 * floor).min(1.0),
            );
            for sample in 0..400_u32 {
                // around the floor, most of the time a hair above it
                let demand = match sample % 7 {
                    0 => 0,
                    1 => stall.bits() - 1,
                    2 => stall.bits(),
                    3 => stall.bits() + 1,
                    4 => stall.bits().saturating_add((sample * 37 % 900) as i16),
                    5 => 20_000,
                    _ => stall.bits().saturating_add(11),
                };
                drive.demand(&config, Duty::constant(demand));
                for _ in 0..10 {
                    let [code] = drive.tick(&config);
                    rotor.advance(0.01, f64::from(code) / f64::from(top));
                    // the floor is a share, the code a whole number of clocks: compare exactly
                    assert!(u64::from(code) * 32_767 >= stall.bits() as u64 * u64::from(top));
                    assert!(
                        rotor.turning,
                        "stalled at period {top}, floor {floor}, sample {sample}, code {code}"
                    );
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 20 * 5 * 400);
}
