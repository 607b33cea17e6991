// Studio rack: storage server beside a recording room: integers for firmware, written by `hushloop build`; do not edit.
//
// Needs the crates `sensor-math`, `controller-core`, `target-support` and `fixed`. Temperatures are in 1/128 degC,
// duties in 1/32767 of full. A controller is not a safety device: fit an independent thermal cut-out.

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

target_support::flash_table!(Elements: <Table as target_support::Stored>::Elements = *TABLE.elements());

/// Degrees or a fault for any code; the table stays in flash.
pub const THERMOMETER: sensor_math::thermometer::Thermometer<
    <Table as target_support::Stored>::In<Elements>,
> = sensor_math::thermometer::Thermometer::new(
    TABLE.read_through(Elements),
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

/// What the demand drives.
pub type Drive = controller_core::drive::output::FanDrive;

/// Part of the station: gains and limits.
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> = controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
    controller_core::gain::Mantissas {
        kp: 2621, // proportional gain
        ki: 5872, // integral gain
        kd: 0, // derivative gain
    },
    6554, // lower limit of the demand: 20.00 %
    32767, // upper limit of the demand: 100.00 %
    controller_core::law::Action::Direct, // 1 cools, 2 heats
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
        5888, // over-temperature trip: 46 degC
        256, // below the trip by this before it may be reset: 2 K
        2, // readings in a row at the trip that latch it: 1 s
    ),
    rate: Some(controller_core::guard::rate::RateConfig::constant(
        192, // most that a reading may move in a sample: 1.5 K
    )),
    stuck: Some(controller_core::guard::stuck::StuckConfig::constant(
        120, // equal readings in a row that make a stuck one: 60 s
        controller_core::duty::Duty::constant(0), // travel of the duty meanwhile: 0.00 %
    )),
    effect: Some(controller_core::guard::effect::EffectConfig::constant(
        controller_core::duty::Duty::constant(31129), // duty that is hard drive: 95.00 %
        2400, // hard drive without an answer that raises the alarm: 1200 s
        64, // answer of the plant: 0.5 K
        128, // error below which none is expected: 1 K
    )),
    hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(
        3200, // integrated error of a half-swing that counts: 12.50 K s
        1257, // time after which one is forgotten: 628.5 s
        10, // half-swings that are hunting
    )),
    on_hunting: controller_core::guard::hunting::OnHunting::Report, // 0 reports hunting, 1 halves the gains as well
};

/// Part of the station: drive.
pub const DRIVE: <Drive as controller_core::drive::output::Drive>::Config = controller_core::drive::output::FanDriveConfig {
    fans: controller_core::drive::fans::FansConfig {
        fans: [
            controller_core::drive::fan::FanConfig::constant(controller_core::drive::fan::FanParts {
                floor: controller_core::duty::Duty::constant(6553), // lowest duty of a turning fan: 20.00 %
                spin_up: controller_core::drive::fan::SpinUp {
                    level: controller_core::duty::Duty::constant(19660), // duty of the push from rest: 60.00 %
                    ticks: 200, // length of the push: 2 s
                },
                slew: controller_core::drive::fan::Slew {
                    rise: 1638, // fastest rise of the duty: 10.00 %/s
                    fall: 1638, // fastest fall of the duty: 10.00 %/s
                },
                stop: controller_core::drive::fan::Stop::Never,
                airflow: None,
            }),
        ],
        stagger: 0, // from one start to the next: 0 s
    },
    wiring: controller_core::drive::wiring::Wiring::FourWire, // how the speed is set
    timer: controller_core::drive::dither::DitherConfig::of_clocks(
        320, // clocks in a period of the PWM timer
        64, // lowest code of a running actuator
        controller_core::drive::dither::Polarity::ActiveHigh, // level of the pin that drives
    ),
    tachometer: Some(controller_core::drive::tachometer::RotationConfig::constant(
        2, // fewest pulses a window of a turning fan
        6, // windows in a row that decide: 3 s
        2, // pushes before the alarm
    )),
};

// All of it together.

/// Everything the station needs to know; the checksum is for its background self-test.
pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =
    controller_core::station::StationConfig::constant(controller_core::station::StationParts {
        settings: SETTINGS,
        set_point: SET_POINT,
        guards: GUARDS,
        drive: DRIVE,
    })
    .with_checksum(30303);

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
