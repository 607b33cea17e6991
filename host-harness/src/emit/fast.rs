//! The fast form of what is emitted: the table is read where it lies, law and lookup multiply as the target does it best, and a
//! type of no size stands for the configuration, so that the compiler works every number into the code.

use crate::tablegen::{Table, rust_limits, rust_table};

/// Table and thermometer.
pub fn sensor(table: &Table) -> String {
    format!(
        "{}\n\
         target_support::flash_table!(Elements: <Table as target_support::Stored>::Elements = *TABLE.elements());\n\n\
         /// Degrees or a fault for any code; the table stays in flash.\n\
         pub const THERMOMETER: sensor_math::thermometer::Thermometer<\n    \
         <Table as target_support::Stored>::In<Elements>,\n> = \
         sensor_math::thermometer::Thermometer::new(\n    \
         TABLE.read_through(Elements),\n    {},\n);\n",
        rust_table(table),
        rust_limits(table)
    )
}

/// The station, after `Law`, `Drive`, `Fraction`, `GAIN_FRACTION_BITS` and `STATION`.
pub const STATION: &str = "
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
";
