//! The station of the application, and its drive alone.

#[path = "../../application/designs/studio-rack.rs"]
#[allow(dead_code, missing_docs, reason = "written by `hushloop build`; not all of it is used here")]
#[rustfmt::skip]
mod firmware;

use controller_core::drive::output::Drive;
use controller_core::duty::Duty;
use controller_core::setpoint::{SetPoint, Weight};
use exercise::input;
pub use firmware::Station;
use fixed::FixedI16;
use sensor_math::fault::FaultCode;

/// At power-on.
#[inline(never)]
pub fn start() -> Station {
    firmware::station()
}

/// From the regulation series' set point to the design's.
const OFFSET: i16 = firmware::SET_POINT.to_bits() - input::SET_POINT;

/// One step with a good reading.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn station_step(_: &(), station: &mut Station, _: SetPoint<i16>, measurement: i16) -> i16 {
    let reading: Result<_, FaultCode> = Ok(FixedI16::from_bits(measurement.wrapping_add(OFFSET)));
    let alive = station.step(reading, firmware::TICKS_PER_SAMPLE).is_some();
    station.demand().bits() ^ alive as i16
}

/// One tick of the output.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn station_tick(_: &(), station: &mut Station, _: SetPoint<i16>, _: i16) -> i16 {
    station.output_tick()[0] as i16
}

/// One change of the set point, without a bump.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn station_set_point(_: &(), station: &mut Station, _: SetPoint<i16>, measurement: i16) -> i16 {
    station
        .change_set_point(
            FixedI16::from_bits(measurement.wrapping_add(OFFSET)),
            Weight::bumpless(),
        )
        .is_ok() as i16
}

/// One code to a temperature or a fault.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn station_read(code: u16) -> i16 {
    match firmware::THERMOMETER.read(code) {
        Ok(temperature) => temperature.to_bits(),
        Err(fault) => i16::MIN + fault.to_byte() as i16,
    }
}

/// The drive at rest.
pub fn drive() -> firmware::Drive {
    firmware::Drive::at_rest()
}

/// One demand to the drive.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn drive_demand(
    _: &(),
    drive: &mut firmware::Drive,
    _: SetPoint<i16>,
    measurement: i16,
) -> i16 {
    drive.demand(&firmware::DRIVE, Duty::saturating(measurement));
    measurement
}

/// One tick of the drive.
#[unsafe(no_mangle)]
#[inline(never)]
pub fn drive_tick(_: &(), drive: &mut firmware::Drive, _: SetPoint<i16>, _: i16) -> i16 {
    drive.tick(&firmware::DRIVE)[0] as i16
}
