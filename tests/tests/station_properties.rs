//! The station with random gains, guards and histories: the safe state whenever an alarm asks for it, the law's own
//! limits and numbers whenever none does, and never a panic (overflow checks are on).

use controller_core::drive::dither::{DitherConfig, Polarity};
use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
use controller_core::drive::fans::FansConfig;
use controller_core::drive::output::{FanDrive, FanDriveConfig, PwmHeaterConfig, PwmHeaterDrive};
use controller_core::drive::tachometer::RotationConfig;
use controller_core::drive::wiring::Wiring;
use controller_core::duty::Duty;
use controller_core::fields::Fields;
use controller_core::gain::Mantissas;
use controller_core::guard::GuardsConfig;
use controller_core::guard::effect::EffectConfig;
use controller_core::guard::hunting::{HuntingConfig, OnHunting};
use controller_core::guard::rate::RateConfig;
use controller_core::guard::sensor::SensorConfig;
use controller_core::guard::stale::StaleConfig;
use controller_core::guard::stuck::StuckConfig;
use controller_core::guard::trip::TripConfig;
use controller_core::law::{Action, PiState, Settings, pi};
use controller_core::setpoint::Weight;
use controller_core::station::{Pi, Pid, Station, StationConfig, StationParts};
use controller_core::word::Native;
use fixed::FixedI16;
use fixed::types::extra::U7;
use proptest::prelude::*;

const FLOOR: Duty = Duty::constant(6_000);

fn settings(kp: u16, ki: u16, kd: u16, lo: i16, action: Action) -> Settings<i16, 8> {
    let most = Settings::<i16, 8>::gain_sum_max() as u32;
    let kp = u32::from(kp).min(most) as u16;
    let kd = u32::from(kd).min(most - u32::from(kp)) as u16;
    Settings::<i16, 8>::new(Mantissas { kp, ki, kd }, lo, Duty::ONE, action).unwrap()
}

#[derive(Clone, Copy, Debug)]
struct Guards {
    confirm: u8,
    rate: Option<i16>,
    stuck: Option<u16>,
    effect: Option<u16>,
    hunting: Option<u32>,
    halve: bool,
}

fn guards() -> impl Strategy<Value = Guards> {
    (
        1..5_u8,
        prop::option::of(1..2_000_i16),
        prop::option::of(1..20_u16),
        prop::option::of(1..20_u16),
        prop::option::of(1..5_000_u32),
        any::<bool>(),
    )
        .prop_map(|(confirm, rate, stuck, effect, hunting, halve)| Guards {
            confirm,
            rate,
            stuck,
            effect,
            hunting,
            halve,
        })
}

fn parts<D: controller_core::drive::output::Drive>(
    g: Guards,
    settings: Settings<i16, 8>,
    drive: D::Config,
) -> StationParts<8, D, U7> {
    StationParts {
        settings,
        set_point: FixedI16::<U7>::lit("40"),
        drive,
        guards: GuardsConfig {
            sensor: SensorConfig::new(g.confirm, g.confirm).unwrap(),
            stale: StaleConfig::constant(6),
            trip: TripConfig::constant(60 * 128, 128, 2),
            rate: g.rate.map(|limit| RateConfig::new(limit).unwrap()),
            stuck: g
                .stuck
                .map(|samples| StuckConfig::new(samples, Duty::constant(500)).unwrap()),
            effect: g.effect.map(|samples| {
                EffectConfig::new(Duty::constant(30_000), samples, 64, 128).unwrap()
            }),
            hunting: g
                .hunting
                .map(|limit| HuntingConfig::new(limit, 50, 3).unwrap()),
            on_hunting: if g.halve {
                OnHunting::HalveGains
            } else {
                OnHunting::Report
            },
        },
    }
}

fn fan() -> FanDriveConfig<1> {
    FanDriveConfig {
        fans: FansConfig {
            fans: [FanConfig::constant(FanParts {
                floor: FLOOR,
                spin_up: SpinUp {
                    level: Duty::FULL,
                    ticks: 2,
                },
                stop: Stop::Never,
                airflow: None,
                slew: Slew {
                    rise: 5_000,
                    fall: 3_000,
                },
            })],
            stagger: 0,
        },
        timer: DitherConfig::constant(255, FLOOR, Polarity::ActiveHigh),
        tachometer: Some(RotationConfig::constant(3, 2, 1)),
        wiring: Wiring::FourWire,
    }
}

#[derive(Clone, Copy, Debug)]
enum Event {
    Reading(i16),
    Broken,
    Late(i16),
    Gap,
    NoPulses,
    Reset,
    SetPoint(i16),
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        8 => (4_900..5_400_i16).prop_map(Event::Reading),
        3 => any::<i16>().prop_map(Event::Reading),
        2 => Just(Event::Broken),
        1 => any::<i16>().prop_map(Event::Late),
        1 => Just(Event::Gap),
        2 => Just(Event::NoPulses),
        1 => Just(Event::Reset),
        1 => any::<i16>().prop_map(Event::SetPoint),
    ]
}

macro_rules! keeps_its_promises {
    ($name:ident, $law:ty, $drive:ty, $config:expr, $lo:expr, $action:expr, $safe:expr, $code:expr) => {
        proptest! {
            #[test]
            fn $name(g in guards(), kp in any::<u16>(), ki in any::<u16>(), kd in any::<u16>(), events in prop::collection::vec(event(), 1..150)) {
                let settings = settings(kp, ki, kd, $lo, $action);
                let config = StationConfig::<8, $drive, U7>::new(parts(g, settings, $config)).unwrap();
                let config = config.with_checksum(config.checksum());
                let mut station = Station::<$law, $drive, U7, 8>::new(&config);
                let code: fn(_) -> u16 = $code;
                prop_assert_eq!(code(station.output_tick()), $safe, "safe at power-on");
                for event in events {
                    let reading = match event {
                        Event::Reading(word) | Event::Late(word) => Ok(FixedI16::from_bits(word)),
                        Event::Broken => Err(1_u8),
                        _ => Ok(FixedI16::<U7>::lit("40.25")),
                    };
                    match event {
                        Event::Gap => for _ in 0..8 { station.output_tick(); },
                        Event::NoPulses => station.pulses(0, 0),
                        Event::Reset => { station.reset(); }
                        Event::SetPoint(word) => { let _ = station.change_set_point(FixedI16::from_bits(word), Weight::bumpless()); }
                        _ => {}
                    }
                    let elapsed = if matches!(event, Event::Late(_) | Event::Gap) { 8 } else { 4 };
                    prop_assert!(station.step(reading, elapsed).is_some(), "alive: the output ticked and the checksum holds");
                    let put = code(station.output_tick());
                    if station.alarms().unsafe_to_run() {
                        prop_assert_eq!(put, $safe, "{:?} with {:?}", event, station.alarms());
                        prop_assert_eq!(station.demand().bits() as u16 > 0, $safe > 0);
                        prop_assert!(!station.running());
                    } else {
                        prop_assert!(station.demand().bits() >= $lo);
                    }
                    if station.alarms().has(controller_core::guard::Alarm::Hunting) {
                        prop_assert_eq!(station.gains_halved(), g.halve);
                    }
                }
            }
        }
    };
}

keeps_its_promises!(
    cooling_by_pi,
    Pi,
    FanDrive<1>,
    fan(),
    FLOOR.bits(),
    Action::Direct,
    255,
    |[code]: [u16; 1]| code
);
keeps_its_promises!(
    cooling_by_pid,
    Pid<3>,
    FanDrive<1>,
    fan(),
    FLOOR.bits(),
    Action::Direct,
    255,
    |[code]: [u16; 1]| code
);
keeps_its_promises!(
    heating_by_pid,
    Pid<5>,
    PwmHeaterDrive,
    PwmHeaterConfig {
        timer: DitherConfig::constant(1_000, Duty::OFF, Polarity::ActiveHigh)
    },
    0,
    Action::Reverse,
    0,
    |code: u16| code
);

proptest! {
    /// Without a fault the station is the law: the same demands, word for word.
    #[test]
    fn a_healthy_station_is_its_law(kp in 0..20_000_u16, ki in 0..20_000_u16, walk in prop::collection::vec(-60..=60_i16, 1..400)) {
        let settings = settings(kp, ki, 0, FLOOR.bits(), Action::Direct);
        let g = Guards { confirm: 3, rate: Some(200), stuck: None, effect: None, hunting: None, halve: false };
        let config = StationConfig::<8, FanDrive<1>, U7>::new(parts(g, settings, fan())).unwrap();
        let mut station = Station::<Pi, FanDrive<1>, U7, 8>::new(&config);
        let mut law = PiState::start(&settings);
        let mut word = 40 * 128_i16;
        for step in walk {
            word = (word + step).clamp(-5_000, 7_000);
            station.output_tick();
            let _ = station.step::<u8>(Ok(FixedI16::from_bits(word)), 4);
            let demand = pi::step::<i16, 8, Native>(&settings, &mut law, 40 * 128, word);
            prop_assert_eq!(station.demand().bits(), demand);
        }
    }

    /// Out of the safe state the first demand is the safe duty, or the nearest that the integrator's clamp allows.
    #[test]
    fn recovery_is_bumpless_or_as_near_as_can_be(kp in 0..20_000_u16, ki in 0..2_000_u16, word in -10_000..7_000_i16) {
        let settings = settings(kp, ki, 0, FLOOR.bits(), Action::Direct);
        let g = Guards { confirm: 1, rate: None, stuck: None, effect: None, hunting: None, halve: false };
        let config = StationConfig::<8, FanDrive<1>, U7>::new(parts(g, settings, fan())).unwrap();
        let mut station = Station::<Pi, FanDrive<1>, U7, 8>::new(&config);
        let reading = || Ok::<_, u8>(FixedI16::<U7>::from_bits(word));
        for _ in 0..5 {
            station.output_tick();
            let _ = station.step(reading(), 4);
        }
        let _ = station.step(Err(1_u8), 4);
        prop_assert_eq!(station.demand(), Duty::FULL);
        station.output_tick();
        let _ = station.step(reading(), 4);
        // I = full - kp * e, clamped to what rounds into lo ..= hi; then the law
        let p = f64::from(kp) * (f64::from(word) - 40.0 * 128.0) / 256.0;
        let integral = (32_767.0 - p).clamp(5_999.5, 32_767.5);
        let nearest = (integral + p).clamp(6_000.0, 32_767.0);
        prop_assert!((f64::from(station.demand().bits()) - nearest).abs() <= 1.0, "{} {}", station.demand().bits(), nearest);
    }
}
