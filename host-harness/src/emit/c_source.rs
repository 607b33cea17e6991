//! A design as one self-contained C99 file pair: the law and the lookup, without a library, floating point or
//! allocation, bit-identical to the Rust crates. For teams whose firmware is in C.
//!
//! No undefined behaviour: no signed sum or product can overflow (the bounds are the law's own, see
//! `controller_core::law`), nothing is shifted left into or beyond the sign. Right shifts of negative numbers are
//! implementation-defined in C99 and arithmetic in every compiler this is for; the source refuses to compile where they
//! are not.

mod law;
mod lookup;
pub mod trial;

use std::fmt::Write;

use controller_core::law::Action;
use sensor_math::fault::{FaultCode, Limits};

use crate::integers::LawIntegers;
use crate::tablegen::Layout;

/// Everything the pair is made from.
#[derive(Clone, Debug, PartialEq)]
pub struct Controller {
    /// Name of both files, without `.h` and `.c`.
    pub file: String,
    /// What every name in C begins with: a C identifier in lower case.
    pub prefix: String,
    /// One line about the design, for the comment at the top.
    pub title: String,
    /// The law; without a derivative gain there is no filter either.
    pub law: LawIntegers,
    /// The lookup.
    pub table: Layout,
    /// Fault thresholds.
    pub limits: Limits,
    /// Fraction bits of a temperature word.
    pub temperature_fraction_bits: u32,
    /// What firmware may want to know besides, by name.
    pub integers: Vec<(String, i64)>,
    /// Why it must not be flashed: stops every compilation.
    pub refusal: Option<String>,
}

/// The two files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pair {
    /// `FILE.h`.
    pub header: String,
    /// `FILE.c`.
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
    let guard = controller.file.to_uppercase().replace(['-', '.'], "_");
    let filtered = if controller.law.has_derivative() {
        "    int32_t filtered; /* measurement, filtered, with the filter's fraction bits */\n"
    } else {
        ""
    };
    let refusal = controller.refusal.as_ref().map_or(String::new(), |why| {
        format!("#error \"{}\"\n\n", comment(why).replace(['"', '\\'], "'"))
    });
    let mut integers = String::new();
    for (name, value) in &controller.integers {
        let _ = writeln!(integers, "#define {upper}_{name} {}", literal(*value));
    }
    format!(
        "/* {title}: integers, control law and sensor table, written by `hushloop build`; do not edit.\n\
         \x20*\n\
         \x20* C99. Integers only: temperatures in 1/{counts} degC, duties in 1/32767 of full, codes as the converter gives\n\
         \x20* them, times in output ticks where they say so. Bit-identical to the Rust crates.\n\
         \x20* A controller is not a safety device: fit an independent thermal cut-out.\n\
         \x20*\n\
         \x20* Once a sample period:\n\
         \x20*     if ({prefix}_fault(code) == {upper}_NO_FAULT)\n\
         \x20*         duty = {prefix}_step(&state, set_point, {prefix}_temperature(code));\n\
         \x20*     else\n\
         \x20*         duty = {safe}; and {prefix}_start(&state, first good temperature) afterwards\n\
         \x20*/\n\
         #ifndef {guard}_H\n#define {guard}_H\n\n{refusal}#include <stdint.h>\n\n\
         #define {upper}_COUNTS_PER_DEGREE {counts}\n\
         #define {upper}_DUTY_FULL 32767\n\
         {integers}\n\
         #define {upper}_NO_FAULT 0\n\
         #define {upper}_OPEN {open}\n\
         #define {upper}_SHORT {short}\n\
         #define {upper}_OUT_OF_RANGE {beyond}\n\n\
         typedef struct {{\n    int32_t integral; /* duty with 16 fraction bits and the rounding half inside */\n{filtered}}} {prefix}_state;\n\n\
         /* The state to start from, and to start again from after a fault or a gap. */\n\
         void {prefix}_start({prefix}_state *state, int16_t first_measurement);\n\n\
         /* One sample: the duty now, in {lo}..{hi}. */\n\
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
        open = FaultCode::Open.to_byte(),
        short = FaultCode::Short.to_byte(),
        beyond = FaultCode::OutOfRange.to_byte(),
        lo = controller.law.lo,
        hi = controller.law.hi,
    )
}

/// A literal that needs no wider type than it has: the least word is the difference of two that fit, and what passes
/// an `int` of 16 bits is of the type that holds it by itself, unless it needs the sign's bit.
fn literal(value: i64) -> String {
    match value {
        -32768 => "(-32767 - 1)".to_owned(),
        0x8000_0000.. => format!("{value}u"),
        0.. => value.to_string(),
        _ => format!("({value})"),
    }
}

fn integer(value: i16) -> String {
    literal(value.into())
}

fn source(controller: &Controller) -> String {
    let prefix = &controller.prefix;
    let upper = prefix.to_uppercase();
    let mut out = format!(
        "/* {}: written by `hushloop build`; do not edit. See {file}.h. */\n\
         #include \"{file}.h\"\n\n\
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
        comment(&controller.title),
        file = controller.file
    );
    out.push_str(&lookup::text(prefix, &upper, &controller.table));
    out.push_str(&faults(prefix, &upper, &controller.limits));
    out.push_str(&law::text(prefix, &controller.law));
    out
}

fn faults(prefix: &str, upper: &str, limits: &Limits) -> String {
    let (low, high) = (
        limits.open().min(limits.short()),
        limits.open().max(limits.short()),
    );
    let (below, above) = if limits.open() < limits.short() {
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
        first = limits.first(),
        last = limits.last(),
    );
    out
}

#[cfg(test)]
mod tests;
