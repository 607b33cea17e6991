//! ADC code in, degrees out: from any thermistor or platinum sensor and any divider to a
//! temperature in integers, with the error known.
//!
//! `no_std`, no `unsafe`, no allocation. At run time no floating point, no division, no panic:
//! functions that take or return `f64` are `const fn`, meant for `const` items (and for the host
//! program), so that physical numbers are written in the firmware's source and only integers reach
//! flash.
//!
//! ```
//! use fixed::types::extra::U7;
//! use sensor_math::{Sensor, adc::Adc, curve::{Beta, Curve}, divider::{Divider, Side}};
//! use sensor_math::{fault::FaultCode, table::Uniform, thermometer::Thermometer};
//!
//! const SENSOR: Sensor = Sensor {
//!     adc: Adc::ratiometric(10),
//!     divider: Divider::new(Side::Supply, 10_000.0),
//!     curve: Curve::Beta(Beta::new(10_000.0, 3435.0)),
//! };
//! const LOW: f64 = -10.0;
//! const HIGH: f64 = 100.0;
//! type Table = Uniform<[i16; Uniform::<(), 3, U7>::knots_for(&SENSOR, LOW, HIGH)], 3, U7>;
//! const TABLE: Table = Uniform::on_curve(&SENSOR, LOW, HIGH);
//! const _: () = assert!(TABLE.worst_error_celsius(&SENSOR) < 0.1, "the table is too coarse");
//! static PROBE: Thermometer<Table> =
//!     Thermometer::new(TABLE, SENSOR.limits_or_panic(LOW, HIGH));
//!
//! let reading = PROBE.read(SENSOR.code_at(40.0)).unwrap();
//! assert!((reading.to_num::<f64>() - 40.0).abs() < 0.15);
//! assert_eq!(PROBE.read(2), Err(FaultCode::Open));
//! ```
#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]

// The physical side, in `const` context: what a code means.
pub mod adc;
pub mod curve;
pub mod divider;
mod real;
mod sensor;
pub use sensor::{Codes, Sensor, SensorError};

// The run-time side, in integers, along the signal's path: code, table, trim, degrees or fault.
pub mod fault;
pub mod table;
pub mod thermometer;
pub mod trim;

pub mod filter;

/// README's example, word for word.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
