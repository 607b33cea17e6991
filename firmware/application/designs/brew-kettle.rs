// Brew kettle: mash at 66 degC, then 72: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core` and `fixed`. Temperatures are in 1/128 degC, duties in
// 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// 0 to 110 degC, codes 252 to 3301, 102 bytes, uniform, at most 0.0418 degC off at any code.
pub type Table = sensor_math::table::Uniform<[i16; 49], 6, fixed::types::extra::U7>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Uniform::from_knots(230, 3301, [
    -207, 418, 955, 1420, 1839, 2221, 2574, 2904, 3216, 3511, 3795, 4066,
    4330, 4584, 4833, 5076, 5313, 5548, 5778, 6007, 6233, 6457, 6681, 6904,
    7127, 7351, 7575, 7801, 8029, 8258, 8491, 8727, 8966, 9210, 9459, 9714,
    9975, 10243, 10520, 10806, 11102, 11410, 11732, 12069, 12424, 12798, 13197, 13622,
    14084,
]);

/// Degrees or a fault for any code.
pub static THERMOMETER: sensor_math::thermometer::Thermometer<Table> =
    sensor_math::thermometer::Thermometer::new(
        TABLE,
        sensor_math::fault::Limits::new(252, 3301, 126, 3698),
    );

// Measurement in, demand out.

/// Sample period, milliseconds.
pub const PERIOD_MILLISECONDS: u32 = 500;

/// Output ticks a sample; one tick is 10 ms.
pub const TICKS_PER_SAMPLE: u16 = 50;

/// Format of a temperature word.
pub type Fraction = fixed::types::extra::U7;

/// Wanted temperature: 66 degC.
pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits(8448);

/// Fraction bits of the proportional and the derivative gain.
pub const GAIN_FRACTION_BITS: u32 = 8;

/// The law: PID; the derivative's filter averages over 32 samples.
pub type Law = controller_core::station::Pid<5>;

/// Gains, limits and direction of the loop.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =
    controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
        controller_core::gain::Mantissas { kp: 11796, ki: 1678, kd: 8192 },
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
        trip: controller_core::guard::trip::TripConfig::constant(10240, 256, 2),
        rate: Some(controller_core::guard::rate::RateConfig::constant(250)),
        stuck: Some(controller_core::guard::stuck::StuckConfig::constant(120, controller_core::duty::Duty::constant(0))),
        effect: Some(controller_core::guard::effect::EffectConfig::constant(controller_core::duty::Duty::constant(31129), 2400, 64, 128)),
        hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(1843, 603, 10)),
        on_hunting: controller_core::station::OnHunting::Report,
    })
    .with_checksum(26665);

/// The station: `Station::new(&STATION)`, `step` once a sample, `output_tick` once a tick.
pub type Station = controller_core::station::Station<'static, Law, Drive, Fraction, GAIN_FRACTION_BITS>;
