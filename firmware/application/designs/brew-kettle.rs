// Brew kettle: mash at 66 degC, then 72: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core`, `target-support` and `fixed`. Temperatures are in 1/32 degC,
// duties in 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

// ADC code in, degrees or a fault out.

/// 0 to 160 degC, codes 15241 to 21493, 18 bytes, packed, at most 0.0938 degC off at any code.
pub type Table = sensor_math::table::Packed<[u8; 12], 0, fixed::types::extra::U5>;

/// The table; it checks its integers when it is compiled.
pub const TABLE: Table = sensor_math::table::Packed::from_bytes(15183, -42, 9, 162, [
    128, 0, 1, 183, 192, 202, 105, 108, 111, 113, 117, 240,
], []);

target_support::flash_table!(Elements: <Table as target_support::Stored>::Elements = *TABLE.elements());

/// Degrees or a fault for any code; the table stays in flash.
pub const THERMOMETER: sensor_math::thermometer::Thermometer<
    <Table as target_support::Stored>::In<Elements>,
> = sensor_math::thermometer::Thermometer::new(
    TABLE.read_through(Elements),
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

/// What the demand drives.
pub type Drive = controller_core::drive::output::SwitchedHeaterDrive;

/// Part of the station: gains and limits.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> = controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
    controller_core::gain::Mantissas {
        kp: 2949, // proportional gain
        ki: 6711, // integral gain
        kd: 2048, // derivative gain
    },
    0, // lower limit of the demand: 0.00 %
    32767, // upper limit of the demand: 100.00 %
    controller_core::law::Action::Reverse, // 1 cools, 2 heats
);

/// Part of the station: guards.
pub const GUARDS: controller_core::guard::GuardsConfig = controller_core::guard::GuardsConfig {
    sensor: controller_core::guard::sensor::SensorConfig::constant(
        4, // bad readings in a row that confirm a fault: 2 s
        8, // good readings in a row that end it: 4 s
    ),
    stale: controller_core::guard::stale::StaleConfig::constant(
        200, // latest time of the next sample: 2 s
    ),
    trip: controller_core::guard::trip::TripConfig::constant(
        2560, // over-temperature trip: 80 degC
        64, // below the trip by this before it may be reset: 2 K
        2, // readings in a row at the trip that latch it: 1 s
    ),
    rate: Some(controller_core::guard::rate::RateConfig::constant(
        65, // most that a reading may move in a sample: 2.03125 K
    )),
    stuck: Some(controller_core::guard::stuck::StuckConfig::constant(
        120, // equal readings in a row that make a stuck one: 60 s
        controller_core::duty::Duty::constant(0), // travel of the duty meanwhile: 0.00 %
    )),
    effect: Some(controller_core::guard::effect::EffectConfig::constant(
        controller_core::duty::Duty::constant(31129), // duty that is hard drive: 95.00 %
        2400, // hard drive without an answer that raises the alarm: 1200 s
        16, // answer of the plant: 0.5 K
        32, // error below which none is expected: 1 K
    )),
    hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(
        461, // integrated error of a half-swing that counts: 7.20 K s
        603, // time after which one is forgotten: 301.5 s
        10, // half-swings that are hunting
    )),
    on_hunting: controller_core::guard::hunting::OnHunting::Report, // 0 reports hunting, 1 halves the gains as well
};

/// Part of the station: drive.
pub const DRIVE: <Drive as controller_core::drive::output::Drive>::Config = controller_core::drive::time_proportional::TimeProportionalConfig::constant(controller_core::drive::time_proportional::TimeProportionalParts {
    window: 200, // length of the window: 2 s
    min_on: 10, // shortest on-time: 0.1 s
    min_off: 10, // shortest off-time: 0.1 s
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
    .with_checksum(55386);

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
