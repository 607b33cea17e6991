//! `firmware.h`: the integers of a design for C.

use std::fmt::Write;

use super::integers;
use crate::design::Design;
use crate::plan::Plan;
use crate::tablegen::{Format, Table, render};
use crate::verdict::Verdict;

/// Writes the header. With a bad verdict it stops every compilation with the reason.
#[must_use]
pub fn header(design: &Design, table: &Table, verdict: &Verdict) -> String {
    let mut out = format!(
        "/* {}: integers for firmware, written by `hushloop build`; do not edit.\n\
        \x20*\n\
        \x20* Temperatures are in 1/{} degC, duties in 1/32767 of full, times in output ticks where they say so.\n\
        \x20* A controller is not a safety device: fit an independent thermal cut-out.\n\
        \x20*/\n#ifndef HUSHLOOP_FIRMWARE_H\n#define HUSHLOOP_FIRMWARE_H\n\n",
        design.title.replace("*/", "* /"),
        1u32 << design.sensing.table.fraction_bits
    );
    if !verdict.good {
        let _ = writeln!(
            out,
            "#error \"this design has a bad verdict: {}\"\n",
            verdict.reasons_in_one_line().replace('"', "'")
        );
    }
    for (name, value) in integers(&Plan::new(design)) {
        let _ = writeln!(out, "#define LOOP_{name} {value}");
    }
    out.push('\n');
    out.push_str(&render(table, Format::C));
    out.push_str("\n#endif\n");
    out
}
