// Studio rack: storage server beside a recording room: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core` and `fixed`. Temperatures are in 1/128 degC, duties in
// 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// -10 to 100 degC, codes 182 to 931, 100 bytes, uniform, at most 0.0640 degC off at any code.
pub type Table = sensor_math::table::Uniform<[i16; 48], 4, fixed::types::extra::U7>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Uniform::from_knots(181, 931, [
    -1286, -1017, -759, -513, -274, -43, 182, 401, 617, 828, 1036, 1243,
    1447, 1649, 1851, 2052, 2253, 2455, 2656, 2860, 3064, 3271, 3480, 3692,
    3907, 4126, 4350, 4578, 4813, 5053, 5301, 5558, 5823, 6099, 6387, 6687,
    7004, 7338, 7693, 8071, 8478, 8918, 9398, 9928, 10518, 11189, 11966, 12874,
]);

/// Degrees or a fault for any code.
pub static THERMOMETER: sensor_math::thermometer::Thermometer<Table> =
    sensor_math::thermometer::Thermometer::new(
        TABLE,
        sensor_math::fault::Limits::new(182, 931, 91, 977),
    );

// Measurement in, demand out.

/// Sample period, milliseconds.
pub const PERIOD_MILLISECONDS: u32 = 500;

/// Output ticks a sample; one tick is 10 ms.
pub const TICKS_PER_SAMPLE: u16 = 50;

/// Format of a temperature word.
pub type Fraction = fixed::types::extra::U7;

/// Wanted temperature: 38 degC.
pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits(4864);

/// Fraction bits of the proportional and the derivative gain.
pub const GAIN_FRACTION_BITS: u32 = 8;

/// The law: PI.
pub type Law = controller_core::station::Pi;

/// Gains, limits and direction of the loop.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =
    controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
        controller_core::gain::Mantissas { kp: 2621, ki: 5872, kd: 0 },
        6554,
        32767,
        controller_core::law::Action::Direct,
    );

// Demand in, duty out.

/// The drive: fans on one PWM pin.
pub type Drive = controller_core::drive::output::FanDrive;

/// Floor, push, slew, timer and tachometer of the fans.
pub const DRIVE: controller_core::drive::output::FanDriveConfig = controller_core::drive::output::FanDriveConfig {
    fans: controller_core::drive::fans::FansConfig {
        fans: [controller_core::drive::fan::FanConfig::constant(controller_core::drive::fan::FanParts {
            floor: controller_core::duty::Duty::constant(6553),
            spin_up: controller_core::drive::fan::SpinUp {
                level: controller_core::duty::Duty::constant(19660),
                ticks: 200,
            },
            stop: controller_core::drive::fan::Stop::Never,
            airflow: None,
            slew: controller_core::drive::fan::Slew { rise: 1638, fall: 1638 },
        })],
        stagger: 0,
    },
    timer: controller_core::drive::dither::DitherConfig::constant(
        320,
        controller_core::duty::Duty::constant(6553),
        controller_core::drive::dither::Polarity::ActiveHigh,
    ),
    tachometer: Some(controller_core::drive::tachometer::RotationConfig::constant(2, 6, 2)),
    wiring: controller_core::drive::wiring::Wiring::FourWire,
};

// All of it together.

/// Everything the station needs to know; the checksum is for its background self-test.
pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =
    controller_core::station::StationConfig::constant(controller_core::station::StationParts {
        settings: SETTINGS,
        set_point: SET_POINT,
        drive: DRIVE,
        sensor: controller_core::guard::sensor::SensorConfig::constant(4, 8),
        stale: controller_core::guard::stale::StaleConfig::constant(200),
        trip: controller_core::guard::trip::TripConfig::constant(5888, 256, 2),
        rate: Some(controller_core::guard::rate::RateConfig::constant(192)),
        stuck: Some(controller_core::guard::stuck::StuckConfig::constant(120, controller_core::duty::Duty::constant(0))),
        effect: Some(controller_core::guard::effect::EffectConfig::constant(controller_core::duty::Duty::constant(31129), 2400, 64, 128)),
        hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(3200, 1257, 10)),
        on_hunting: controller_core::station::OnHunting::Report,
    })
    .with_checksum(14963);

/// The station: `Station::new(&STATION)`, `step` once a sample, `output_tick` once a tick.
pub type Station = controller_core::station::Station<'static, Law, Drive, Fraction, GAIN_FRACTION_BITS>;
