//! A table as source text.

use super::{Layout, Table};
use std::fmt::Write as _;

/// Form of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// A Rust item for the `sensor-math` crate.
    Rust,
    /// Integers for C.
    C,
    /// Every code with its temperature, the truth and the error.
    Csv,
}

fn list<T: std::fmt::Display>(values: &[T]) -> String {
    let mut text = String::new();
    for (i, value) in values.iter().enumerate() {
        if i > 0 {
            text.push_str(if i % 12 == 0 { ",\n    " } else { ", " });
        }
        let _ = write!(text, "{value}");
    }
    text
}

/// The table's Rust type, with paths from `sensor_math` and `fixed`.
pub fn rust_type(table: &Table) -> String {
    let frac = format!("fixed::types::extra::U{}", table.request.frac_bits);
    match &table.layout {
        Layout::Uniform { shift, knots, .. } => {
            format!(
                "sensor_math::table::Uniform<[i16; {}], {shift}, {frac}>",
                knots.len()
            )
        }
        Layout::Zones {
            shifts: [a, b, c],
            knots,
            ..
        } => {
            format!(
                "sensor_math::table::Zones<[i16; {}], {a}, {b}, {c}, {frac}>",
                knots.len()
            )
        }
        Layout::Packed { bytes, jumps, .. } => format!(
            "sensor_math::table::Packed<[u8; {}], {}, {frac}>",
            bytes.len(),
            jumps.len()
        ),
    }
}

/// The table's value as a Rust expression of [`rust_type`], which checks itself when compiled.
pub fn rust_value(table: &Table) -> String {
    match &table.layout {
        Layout::Uniform {
            first, last, knots, ..
        } => format!(
            "sensor_math::table::Uniform::from_knots({first}, {last}, [\n    {},\n])",
            list(knots)
        ),
        Layout::Zones {
            codes: (a, b, c, d),
            knots,
            ..
        } => format!(
            "sensor_math::table::Zones::from_knots({a}, {b}, {c}, {d}, [\n    {},\n])",
            list(knots)
        ),
        Layout::Packed {
            first,
            origin,
            segments,
            shape,
            bytes,
            jumps,
            ..
        } => {
            let jumps = jumps
                .iter()
                .map(|j| {
                    format!(
                        "sensor_math::table::Jump {{ offset: {}, climb: {}, segment: {}, exponent: {} }}",
                        j.offset, j.climb, j.segment, j.exponent
                    )
                })
                .collect::<Vec<_>>();
            format!(
                "sensor_math::table::Packed::from_bytes({first}, {origin}, {segments}, {shape}, [\n    {},\n], [{}])",
                list(bytes),
                jumps.join(", ")
            )
        }
    }
}

/// The table as text; ends with a newline.
pub fn render(table: &Table, format: Format) -> String {
    match format {
        Format::Rust => rust(table),
        Format::C => c(table),
        Format::Csv => csv(table),
    }
}

/// What the table is, in one line.
fn summary(table: &Table) -> String {
    format!(
        "{} to {} degC, codes {} to {}, {} bytes, {}, at most {:.4} degC off at any code",
        table.request.low_celsius,
        table.request.high_celsius,
        table.codes.first,
        table.codes.last,
        table.layout.bytes(),
        table.layout.encoding(),
        table.error_celsius_max
    )
}

fn rust(table: &Table) -> String {
    format!(
        "{}\n/// Degrees or a fault for any code.\npub static THERMOMETER: sensor_math::thermometer::Thermometer<Table> =\n    sensor_math::thermometer::Thermometer::new(\n        TABLE,\n        {},\n    );\n",
        rust_table(table),
        rust_limits(table)
    )
}

/// The table's type and its value, as Rust items.
pub fn rust_table(table: &Table) -> String {
    format!(
        "/// {}.\npub type Table = {};\n\n/// The table; it checks its integers when it is compiled.\npub const TABLE: Table = {};\n",
        summary(table),
        rust_type(table),
        rust_value(table)
    )
}

/// The limits of validity, as a Rust expression.
pub fn rust_limits(table: &Table) -> String {
    let limits = &table.limits;
    format!(
        "sensor_math::fault::Limits::new({}, {}, {}, {})",
        limits.first(),
        limits.last(),
        limits.open(),
        limits.short()
    )
}

/// Every integer of a table but its elements, by name.
pub fn c_integers(table: &Table) -> Vec<(String, i64)> {
    let limits = &table.limits;
    let mut out = Vec::new();
    let mut define = |name: &str, value: i64| out.push((name.to_owned(), value));
    define("FRACTION_BITS", i64::from(table.request.frac_bits));
    define("VALID_FIRST", i64::from(limits.first()));
    define("VALID_LAST", i64::from(limits.last()));
    define("OPEN", i64::from(limits.open()));
    define("SHORT", i64::from(limits.short()));
    match &table.layout {
        Layout::Uniform {
            first, last, shift, ..
        } => {
            define("FIRST", i64::from(*first));
            define("LAST", i64::from(*last));
            define("SHIFT", i64::from(*shift));
        }
        Layout::Zones { codes, shifts, .. } => {
            define("FIRST", i64::from(codes.0));
            define("ZONE_2", i64::from(codes.1));
            define("ZONE_3", i64::from(codes.2));
            define("LAST", i64::from(codes.3));
            for (i, shift) in shifts.iter().enumerate() {
                define(&format!("SHIFT_{}", i + 1), i64::from(*shift));
            }
        }
        Layout::Packed {
            first,
            origin,
            segments,
            shape,
            jumps,
            ..
        } => {
            define("FIRST", i64::from(*first));
            define("ORIGIN", i64::from(*origin));
            define("SEGMENTS", i64::from(*segments));
            define("UNIT_SHIFT", i64::from(shape & 7));
            define("FALLING", i64::from(shape >> 3 & 1));
            define("EXPONENT", i64::from(shape >> 4));
            for (i, jump) in jumps.iter().enumerate() {
                define(&format!("JUMP_{}_OFFSET", i + 1), i64::from(jump.offset));
                define(&format!("JUMP_{}_CLIMB", i + 1), i64::from(jump.climb));
                define(&format!("JUMP_{}_SEGMENT", i + 1), i64::from(jump.segment));
                define(
                    &format!("JUMP_{}_EXPONENT", i + 1),
                    i64::from(jump.exponent),
                );
            }
        }
    }
    out
}

fn c(table: &Table) -> String {
    let mut text = format!("/* {}. */\n#include <stdint.h>\n\n", summary(table));
    for (name, value) in c_integers(table) {
        let _ = writeln!(text, "#define SENSOR_{name} {value}");
    }
    let _ = match &table.layout {
        Layout::Uniform { knots, .. } | Layout::Zones { knots, .. } => write!(
            text,
            "static const int16_t sensor_knots[{}] = {{\n    {}\n}};\n",
            knots.len(),
            list(knots)
        ),
        Layout::Packed { bytes, .. } => write!(
            text,
            "/* width codes, then differences */\nstatic const uint8_t sensor_bytes[{}] = {{\n    {}\n}};\n",
            bytes.len(),
            list(bytes)
        ),
    };
    text
}

fn csv(table: &Table) -> String {
    let mut text = String::from("code,word,celsius,truth_celsius,error_celsius\n");
    for (code, error) in table.errors() {
        let celsius = table.celsius(code);
        let _ = writeln!(
            text,
            "{code},{},{celsius},{:.6},{error:.6}",
            table.layout.lookup(code),
            celsius - error
        );
    }
    text
}
