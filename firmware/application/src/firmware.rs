// stand-in
pub type Table = sensor_math::table::Uniform<[i16; 26], 5, fixed::types::extra::U7>;
const SENSOR: sensor_math::Sensor = sensor_math::Sensor {
    adc: sensor_math::adc::Adc::ratiometric(10),
    divider: sensor_math::divider::Divider::new(sensor_math::divider::Side::Supply, 10_000.0),
    curve: sensor_math::curve::Curve::Beta(sensor_math::curve::Beta::new(10_000.0, 3435.0)),
};
pub const TABLE: Table = {
    let on = sensor_math::table::Uniform::<[i16; 25], 5, fixed::types::extra::U7>::on_curve(&SENSOR, -10.0, 100.0);
    let mut k = [12800; 26];
    let mut i = 0;
    while i < 25 {
        k[i] = on.knots()[i];
        i += 1;
    }
    sensor_math::table::Uniform::from_knots(on.codes().0, on.codes().1, k)
};
pub const THERMOMETER: sensor_math::thermometer::Thermometer<Table> =
    sensor_math::thermometer::Thermometer::new(TABLE, sensor_math::fault::Limits::new(182, 931, 20, 1010));
pub const TICKS_PER_SAMPLE: u16 = 50;
pub type Fraction = fixed::types::extra::U7;
pub const SET_POINT: fixed::FixedI16<Fraction> = fixed::FixedI16::from_bits(4864);
pub const GAIN_FRACTION_BITS: u32 = 8;
pub type Law<M = controller_core::word::Native> = controller_core::station::Pi<M>;
pub const SETTINGS: controller_core::law::Settings<i16, GAIN_FRACTION_BITS> =
    controller_core::law::Settings::<i16, GAIN_FRACTION_BITS>::constant(
        controller_core::gain::Mantissas { kp: 2621, ki: 5872, kd: 0 },
        6553,
        32767,
        controller_core::law::Action::Direct,
    );
pub type Drive = controller_core::drive::output::FanDrive;
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
    tachometer: None,
    wiring: controller_core::drive::wiring::Wiring::FourWire,
};
pub const STATION: controller_core::station::StationConfig<GAIN_FRACTION_BITS, Drive, Fraction> =
    controller_core::station::StationConfig::constant(controller_core::station::StationParts {
        settings: SETTINGS,
        set_point: SET_POINT,
        drive: DRIVE,
        sensor: controller_core::guard::sensor::SensorConfig::constant(4, 8),
        stale: controller_core::guard::stale::StaleConfig::constant(200),
        trip: controller_core::guard::trip::TripConfig::constant(5888, 256, 2),
        rate: Some(controller_core::guard::rate::RateConfig::constant(640)),
        stuck: Some(controller_core::guard::stuck::StuckConfig::constant(1800, controller_core::duty::Duty::constant(8192))),
        effect: Some(controller_core::guard::effect::EffectConfig::constant(
            controller_core::duty::Duty::constant(31129),
            2400,
            64,
            128,
        )),
        hunting: Some(controller_core::guard::hunting::HuntingConfig::constant(12800, 800, 10)),
        on_hunting: controller_core::station::OnHunting::Report,
    });
