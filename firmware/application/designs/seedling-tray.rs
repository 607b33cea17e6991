// Seedling tray: propagation heat mat: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core` and `fixed`. Temperatures are in 1/128 degC, duties in
// 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// -5 to 60 degC, codes 816 to 3312, 36 bytes, zones, at most 0.0458 degC off at any code.
pub type Table = sensor_math::table::Zones<[i16; 14], 7, 8, 8, fixed::types::extra::U7>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Zones::from_knots(814, 1582, 1582, 3312, [
    7681, 7030, 6455, 5935, 5457, 5012, 4589, 3803, 3066, 2349, 1628, 880,
    64, -855,
]);

/// Degrees or a fault for any code.
pub static THERMOMETER: sensor_math::thermometer::Thermometer<Table> =
    sensor_math::thermometer::Thermometer::new(
        TABLE,
        sensor_math::fault::Limits::new(816, 3312, 3704, 408),
    );

// Measurement in, demand out.

/// Sample period, milliseconds.
pub const PERIOD_MILLISECONDS: u32 = 2000;

/// Output ticks a sample; one tick is 10 ms.
pub const TICKS_PER_SAMPLE: u16 = 200;

/// Format of a temperature word.
pub type Fraction = fixed::types::extra::U7;

/// Wanted temperature: 24 degC.
pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits(3072);

/// Fraction bits of the proportional and the derivative gain.
pub const GAIN_FRACTION_BITS: u32 = 8;

/// The law: PI.
pub type Law = controller_core::station::Pi;

/// Gains, limits and direction of the loop.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =
    controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
        controller_core::gain::Mantissas { kp: 26214, ki: 10066, kd: 0 },
        0,
        32767,
        controller_core::law::Action::Reverse,
    );

// Demand in, switch out.

/// The drive: a heater behind a mains switch.
pub type Drive = controller_core::drive::output::SwitchedHeaterDrive;

/// Window and minimum times, in mains half-cycles.
pub const DRIVE: controller_core::drive::time_proportional::TimeProportionalConfig =
    controller_core::drive::time_proportional::TimeProportionalConfig::constant(
        controller_core::drive::time_proportional::TimeProportionalParts {
            window: 2000,
            min_on: 100,
            min_off: 100,
            unit: controller_core::drive::time_proportional::Unit::WholeCycle,
        },
    );

// All of it together.

/// Everything the station needs to know; the checksum is for its background self-test.
pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =
    controller_core::station::StationConfig::constant(controller_core::station::StationParts {
        settings: SETTINGS,
        set_point: SET_POINT,
        drive: DRIVE,
        sensor: controller_core::guard::sensor::SensorConfig::constant(4, 8),
        stale: controller_core::guard::stale::StaleConfig::constant(800),
        trip: controller_core::guard::trip::TripConfig::constant(4096, 256, 2),
        rate: Some(controller_core::guard::rate::RateConfig::constant(442)),
        stuck: Some(controller_core::guard::stuck::StuckConfig::constant(60, controller_core::duty::Duty::constant(0))),
        effect: Some(controller_core::guard::effect::EffectConfig::constant(controller_core::duty::Duty::constant(31129), 600, 64, 128)),
        hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(960, 314, 10)),
        on_hunting: controller_core::station::OnHunting::Report,
    })
    .with_checksum(33586);

/// The station: `Station::new(&STATION)`, `step` once a sample, `output_tick` once a tick.
pub type Station = controller_core::station::Station<'static, Law, Drive, Fraction, GAIN_FRACTION_BITS>;
