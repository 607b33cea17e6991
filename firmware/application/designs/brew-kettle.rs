// Brew kettle: mash at 66 degC, then 72: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core` and `fixed`. Temperatures are in 1/32 degC, duties in
// 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// 0 to 160 degC, codes 15241 to 21493, 18 bytes, packed, at most 0.0938 degC off at any code.
pub type Table = sensor_math::table::Packed<[u8; 12], 0, fixed::types::extra::U5>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Packed::from_bytes(15183, -42, 9, 162, [
    128, 0, 1, 183, 192, 202, 105, 108, 111, 113, 117, 240,
], []);

/// Degrees or a fault for any code.
pub static THERMOMETER: sensor_math::thermometer::Thermometer<Table> =
    sensor_math::thermometer::Thermometer::new(
        TABLE,
        sensor_math::fault::Limits::new(15241, 21493, 43514, 7620),
    );

// Measurement in, demand out.

/// Sample period, milliseconds.
pub const PERIOD_MILLISECONDS: u32 = 500;

/// Output ticks a sample; one tick is 10 ms.
pub const TICKS_PER_SAMPLE: u16 = 50;

/// Format of a temperature word.
pub type Fraction = fixed::types::extra::U5;

/// Wanted temperature: 66 degC.
pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits(2112);

/// Fraction bits of the proportional and the derivative gain.
pub const GAIN_FRACTION_BITS: u32 = 4;

/// The law: PID; the derivative's filter averages over 32 samples.
pub type Law = controller_core::station::Pid<5>;

/// Gains, limits and direction of the loop.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =
    controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
        controller_core::gain::Mantissas { kp: 2949, ki: 6711, kd: 2048 },
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
            window: 200,
            min_on: 10,
            min_off: 10,
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
        stale: controller_core::guard::stale::StaleConfig::constant(200),
        trip: controller_core::guard::trip::TripConfig::constant(2560, 64, 2),
        rate: Some(controller_core::guard::rate::RateConfig::constant(65)),
        stuck: Some(controller_core::guard::stuck::StuckConfig::constant(120, controller_core::duty::Duty::constant(0))),
        effect: Some(controller_core::guard::effect::EffectConfig::constant(controller_core::duty::Duty::constant(31129), 2400, 16, 32)),
        hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(461, 603, 10)),
        on_hunting: controller_core::station::OnHunting::Report,
    })
    .with_checksum(47285);

/// The station: `Station::new(&STATION)`, `step` once a sample, `output_tick` once a tick.
pub type Station = controller_core::station::Station<'static, Law, Drive, Fraction, GAIN_FRACTION_BITS>;
