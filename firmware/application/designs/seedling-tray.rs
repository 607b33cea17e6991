// Seedling tray: propagation heat mat: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core`, `target-support` and `fixed`. Temperatures are in 1/128 degC,
// duties in 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// -5 to 60 degC, codes 816 to 3312, 36 bytes, zones, at most 0.0458 degC off at any code.
pub type Table = sensor_math::table::Zones<[i16; 14], 7, 8, 8, fixed::types::extra::U7>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Zones::from_knots(814, 1582, 1582, 3312, [
    7681, 7030, 6455, 5935, 5457, 5012, 4589, 3803, 3066, 2349, 1628, 880,
    64, -855,
]);

target_support::flash_table!(Elements: <Table as target_support::Stored>::Elements = *TABLE.elements());

/// Degrees or a fault for any code; the table stays in flash.
pub const THERMOMETER: sensor_math::thermometer::Thermometer<
    <Table as target_support::Stored>::In<Elements>,
> = sensor_math::thermometer::Thermometer::new(
    TABLE.read_through(Elements),
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

/// What the demand drives.
pub type Drive = controller_core::drive::output::SwitchedHeaterDrive;

/// Part of the station: gains and limits.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> = controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
    controller_core::gain::Mantissas {
        kp: 26214, // proportional gain
        ki: 10066, // integral gain
        kd: 0, // derivative gain
    },
    0, // lower limit of the demand: 0.00 %
    32767, // upper limit of the demand: 100.00 %
    controller_core::law::Action::Reverse, // 1 cools, 2 heats
);

/// Part of the station: guards.
pub const GUARDS: controller_core::guard::GuardsConfig = controller_core::guard::GuardsConfig {
    sensor: controller_core::guard::sensor::SensorConfig::constant(
        4, // bad readings in a row that confirm a fault: 8 s
        8, // good readings in a row that end it: 16 s
    ),
    stale: controller_core::guard::stale::StaleConfig::constant(
        800, // latest time of the next sample: 8 s
    ),
    trip: controller_core::guard::trip::TripConfig::constant(
        4096, // over-temperature trip: 32 degC
        256, // below the trip by this before it may be reset: 2 K
        2, // readings in a row at the trip that latch it: 4 s
    ),
    rate: Some(controller_core::guard::rate::RateConfig::constant(
        442, // most that a reading may move in a sample: 3.453125 K
    )),
    stuck: Some(controller_core::guard::stuck::StuckConfig::constant(
        60, // equal readings in a row that make a stuck one: 120 s
        controller_core::duty::Duty::constant(0), // travel of the duty meanwhile: 0.00 %
    )),
    effect: Some(controller_core::guard::effect::EffectConfig::constant(
        controller_core::duty::Duty::constant(31129), // duty that is hard drive: 95.00 %
        600, // hard drive without an answer that raises the alarm: 1200 s
        64, // answer of the plant: 0.5 K
        128, // error below which none is expected: 1 K
    )),
    hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(
        960, // integrated error of a half-swing that counts: 15.00 K s
        314, // time after which one is forgotten: 628 s
        10, // half-swings that are hunting
    )),
    on_hunting: controller_core::guard::hunting::OnHunting::Report, // 0 reports hunting, 1 halves the gains as well
};

/// Part of the station: drive.
pub const DRIVE: <Drive as controller_core::drive::output::Drive>::Config = controller_core::drive::time_proportional::TimeProportionalConfig::constant(controller_core::drive::time_proportional::TimeProportionalParts {
    window: 2000, // length of the window: 20 s
    min_on: 100, // shortest on-time: 1 s
    min_off: 100, // shortest off-time: 1 s
    unit: controller_core::drive::time_proportional::Unit::WholeCycle, // smallest piece of on-time
});

// All of it together.

/// Everything the station needs to know; the checksum is for its background self-test.
pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =
    controller_core::station::StationConfig::constant(controller_core::station::StationParts {
        settings: SETTINGS,
        set_point: SET_POINT,
        guards: GUARDS,
        drive: DRIVE,
    })
    .with_checksum(196);

/// Stands for `STATION`: of no size, so that every number is part of the code. There is no memory of its own that a self-test
/// could look at, so there is none.
#[derive(Clone, Copy, Debug)]
pub struct Constant;

impl controller_core::station::Configuration<GAIN_FRACTION_BITS, Drive, Fraction> for Constant {
    #[inline(always)]
    fn get(&self) -> &controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> {
        const { &STATION.without_checksum() }
    }
}

/// The station: `step` once a sample, `output_tick` once a tick.
pub type Station = controller_core::station::Station<
    'static,
    <Law as target_support::Multiplied>::Law,
    Drive,
    Fraction,
    GAIN_FRACTION_BITS,
    Constant,
>;

/// The station at power-on: in its safe state until the first usable reading.
#[must_use]
pub fn station() -> Station {
    Station::new(Constant)
}
