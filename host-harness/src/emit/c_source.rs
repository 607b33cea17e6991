//! A design as one self-contained C99 file pair: the law and the lookup, without a library, floating point or
//! allocation, bit-identical to the Rust crates. For teams whose firmware is in C.
//!
//! No undefined behaviour: no signed sum or product can overflow (the bounds are the law's own, see
//! `controller_core::law`), nothing is shifted left into or beyond the sign. Right shifts of negative numbers are
//! implementation-defined in C99 and arithmetic in every compiler this is for; the source refuses to compile where they
//! are not.

mod law;
mod lookup;

use std::fmt::Write;

/// What acts on what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// Cooling: more output when it is too hot.
    Direct,
    /// Heating: more output when it is too cold.
    Reverse,
}

/// The law's integers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Law {
    /// Proportional mantissa, `gain_fraction_bits` fraction bits.
    pub kp: u16,
    /// Integral mantissa a sample, 16 fraction bits.
    pub ki: u16,
    /// Derivative mantissa, `gain_fraction_bits` fraction bits.
    pub kd: u16,
    /// Fraction bits of `kp` and `kd`, 1 to 15.
    pub gain_fraction_bits: u32,
    /// The derivative's filter averages over `2^filter_exponent` samples, exponent 0 to 15; `None` for a PI law.
    pub filter_exponent: Option<u32>,
    /// Least demand, 0 or more.
    pub lo: i16,
    /// Greatest demand, 32767 means full.
    pub hi: i16,
    /// Direction.
    pub action: Action,
}

/// The table's integers, as in `sensor_math::table`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Table {
    /// Knots at equal distances of `2^shift` codes.
    Uniform {
        /// First and last code.
        codes: (u16, u16),
        /// Step, 0 to 15.
        shift: u32,
        /// Temperatures at the knots.
        knots: Vec<i16>,
    },
    /// Three zones of uniform steps; a zone may be empty.
    Zones {
        /// First code, end of the first zone, end of the second zone, last code.
        codes: (u16, u16, u16, u16),
        /// Steps of the zones.
        shifts: (u32, u32, u32),
        /// Temperatures at the knots.
        knots: Vec<i16>,
    },
    /// Segments of free widths, powers of two.
    Packed {
        /// First code.
        first: u16,
        /// Temperature at the first code.
        origin: i16,
        /// Number of segments.
        segments: u8,
        /// Unit, direction and width exponent before the first segment.
        shape: u8,
        /// Width codes, then differences.
        bytes: Vec<u8>,
        /// Places to start the scan: offset, climb, segment, width exponent before it.
        jumps: Vec<(u16, u16, u8, u8)>,
    },
}

/// Codes that are readings, and codes that are faults.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// First code that is a temperature.
    pub first: u16,
    /// Last code that is a temperature.
    pub last: u16,
    /// Up to here the wire is broken or shorted.
    pub low: u16,
    /// From here the wire is shorted or broken.
    pub high: u16,
    /// Whether a broken wire reads low.
    pub open_is_low: bool,
}

/// Everything the pair is made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Controller {
    /// What every name in C begins with: a C identifier in lower case.
    pub prefix: String,
    /// One line about the design, for the comment at the top.
    pub title: String,
    /// The law.
    pub law: Law,
    /// The lookup.
    pub table: Table,
    /// Fault thresholds.
    pub limits: Limits,
    /// Fraction bits of a temperature word.
    pub temperature_fraction_bits: u32,
    /// The wanted temperature, a temperature word.
    pub set_point: i16,
}

/// The two files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pair {
    /// `PREFIX.h`.
    pub header: String,
    /// `PREFIX.c`.
    pub source: String,
}

/// Why a controller is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal(String);

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "C source: {}", self.0)
    }
}

impl std::error::Error for Refusal {}

fn refuse(what: impl Into<String>) -> Result<(), Refusal> {
    Err(Refusal(what.into()))
}

fn check(controller: &Controller) -> Result<(), Refusal> {
    let prefix = &controller.prefix;
    let word = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    if !prefix.starts_with(|c: char| c.is_ascii_lowercase())
        || !prefix.chars().all(word)
        || prefix.len() > 31
    {
        refuse(format!(
            "prefix {prefix:?}; accepted: a lower-case letter, then up to 30 of a-z, 0-9 and _"
        ))?;
    }
    if controller.temperature_fraction_bits > 14 {
        refuse(format!(
            "{} temperature fraction bits; accepted: 0 to 14",
            controller.temperature_fraction_bits
        ))?;
    }
    law::check(&controller.law)?;
    lookup::check(&controller.table)?;
    let limits = &controller.limits;
    if !(limits.low < limits.first && limits.first <= limits.last && limits.last < limits.high) {
        refuse(format!(
            "fault thresholds {} and {} around codes {}..={}; accepted: low < first <= last < high",
            limits.low, limits.high, limits.first, limits.last
        ))?;
    }
    Ok(())
}

/// Writes the pair.
///
/// # Errors
/// When an integer would break what the arithmetic relies on: the same bounds as the constructors of the two crates.
pub fn emit(controller: &Controller) -> Result<Pair, Refusal> {
    check(controller)?;
    Ok(Pair {
        header: header(controller),
        source: source(controller),
    })
}

/// A comment must not end before it should, nor open another.
fn comment(text: &str) -> String {
    text.replace("*/", "* /")
        .replace("/*", "/ *")
        .replace(['\n', '\r'], " ")
}

fn header(controller: &Controller) -> String {
    let prefix = &controller.prefix;
    let upper = prefix.to_uppercase();
    let filtered = if controller.law.filter_exponent.is_some() {
        "    int32_t filtered; /* measurement, filtered, with the filter's fraction bits */\n"
    } else {
        ""
    };
    format!(
        "/* {title}: the control law and the sensor table, written by `hushloop build`; do not edit.\n\
         \x20*\n\
         \x20* C99. Integers only: temperatures in 1/{counts} degC, duties in 1/32767 of full, codes as the converter gives them.\n\
         \x20* Bit-identical to the Rust crates. A controller is not a safety device: fit an independent thermal cut-out.\n\
         \x20*\n\
         \x20* Once a sample period:\n\
         \x20*     if ({prefix}_fault(code) == {upper}_NO_FAULT)\n\
         \x20*         duty = {prefix}_step(&state, {upper}_SET_POINT, {prefix}_temperature(code));\n\
         \x20*     else\n\
         \x20*         duty = {safe}; and {prefix}_start(&state, first good temperature) afterwards\n\
         \x20*/\n\
         #ifndef {upper}_H\n#define {upper}_H\n\n#include <stdint.h>\n\n\
         #define {upper}_COUNTS_PER_DEGREE {counts}\n\
         #define {upper}_SET_POINT {set_point}\n\
         #define {upper}_DUTY_FULL 32767\n\
         #define {upper}_DUTY_LEAST {lo}\n\
         #define {upper}_DUTY_GREATEST {hi}\n\n\
         #define {upper}_NO_FAULT 0\n\
         #define {upper}_OPEN 1\n\
         #define {upper}_SHORT 2\n\
         #define {upper}_OUT_OF_RANGE 3\n\n\
         typedef struct {{\n    int32_t integral; /* duty with 16 fraction bits and the rounding half inside */\n{filtered}}} {prefix}_state;\n\n\
         /* The state to start from, and to start again from after a fault or a gap. */\n\
         void {prefix}_start({prefix}_state *state, int16_t first_measurement);\n\n\
         /* One sample: the duty now, in {upper}_DUTY_LEAST..{upper}_DUTY_GREATEST. */\n\
         int16_t {prefix}_step({prefix}_state *state, int16_t set_point, int16_t measurement);\n\n\
         /* Temperature of a code; outside the table's range that of its nearer end. */\n\
         int16_t {prefix}_temperature(uint16_t code);\n\n\
         /* Whether a code is a reading at all. */\n\
         uint8_t {prefix}_fault(uint16_t code);\n\n\
         #endif\n",
        title = comment(&controller.title),
        counts = 1u32 << controller.temperature_fraction_bits,
        safe = match controller.law.action {
            Action::Direct => "full",
            Action::Reverse => "none",
        },
        set_point = integer(controller.set_point),
        lo = controller.law.lo,
        hi = controller.law.hi,
    )
}

/// A literal that needs no wider type than it has: -32768 is the difference of two `int`s that fit.
fn integer(value: i16) -> String {
    match value {
        i16::MIN => "(-32767 - 1)".to_owned(),
        0.. => value.to_string(),
        _ => format!("({value})"),
    }
}

fn source(controller: &Controller) -> String {
    let prefix = &controller.prefix;
    let upper = prefix.to_uppercase();
    let mut out = format!(
        "/* {}: written by `hushloop build`; do not edit. See {prefix}.h. */\n\
         #include \"{prefix}.h\"\n\n\
         /* Right shifts of negative numbers must be arithmetic (C99 leaves that to the implementation). */\n\
         typedef char {prefix}_shifts_are_arithmetic[((int32_t)-1 >> 1) == -1 ? 1 : -1];\n\n\
         /* Where flash is another address space, say before this file how a table is placed and read, e.g. for AVR:\n\
         \x20*     #include <avr/pgmspace.h>\n\
         \x20*     #define {upper}_IN_FLASH PROGMEM\n\
         \x20*     #define {upper}_WORD(address) ((int16_t)pgm_read_word(address))\n\
         \x20*     #define {upper}_BYTE(address) pgm_read_byte(address)\n\
         \x20*/\n\
         #ifndef {upper}_IN_FLASH\n#define {upper}_IN_FLASH\n#endif\n\
         #ifndef {upper}_WORD\n#define {upper}_WORD(address) (*(address))\n#endif\n\
         #ifndef {upper}_BYTE\n#define {upper}_BYTE(address) (*(address))\n#endif\n\n",
        comment(&controller.title)
    );
    out.push_str(&lookup::text(prefix, &upper, &controller.table));
    out.push_str(&faults(prefix, &upper, &controller.limits));
    out.push_str(&law::text(prefix, &controller.law));
    out
}

fn faults(prefix: &str, upper: &str, limits: &Limits) -> String {
    let (below, above) = if limits.open_is_low {
        ("OPEN", "SHORT")
    } else {
        ("SHORT", "OPEN")
    };
    let mut out = format!("uint8_t {prefix}_fault(uint16_t code)\n{{\n");
    let _ = write!(
        out,
        "    if (code >= {first}u && code <= {last}u) return {upper}_NO_FAULT;\n\
         \x20   if (code <= {low}u) return {upper}_{below};\n\
         \x20   if (code >= {high}u) return {upper}_{above};\n\
         \x20   return {upper}_OUT_OF_RANGE;\n}}\n\n",
        first = limits.first,
        last = limits.last,
        low = limits.low,
        high = limits.high,
    );
    out
}

#[cfg(test)]
mod tests;
