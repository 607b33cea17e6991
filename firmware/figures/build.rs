//! Picks the memory layout, and hands the C compiler's objects and libraries to the linker where there is one.
//!
//! `HUSH_C` names a directory with one directory a target in it, holding `libhush_c.a` and a file `search` with the
//! places of the C libraries, one a line (the runner makes it). Without it the image holds no C.

use std::env;
use std::fs;
use std::path::PathBuf;

fn main() {
    let target = env::var("TARGET").expect("cargo sets TARGET");
    let layout = match target.split('-').next() {
        Some("msp430") => Some("msp430-48k.x"),
        Some("thumbv6m") => Some("thumbv6m.x"),
        Some("riscv32imc") => Some("riscv32imc.x"),
        _ => None,
    };
    if let Some(layout) = layout {
        println!("cargo::rustc-link-arg-bins=-T{layout}");
    }
    if target.starts_with("avr") {
        // More code than the small chip holds: the simulator runs this image on its larger sister, whose instructions
        // take the same cycles.
        println!("cargo::rustc-link-arg-bins=-Wl,--defsym=__TEXT_REGION_LENGTH__=65536");
    }
    println!("cargo::rustc-check-cfg=cfg(with_c)");
    println!("cargo::rerun-if-env-changed=HUSH_C");
    let Ok(directory) = env::var("HUSH_C") else {
        return;
    };
    let directory = PathBuf::from(directory).join(&target);
    println!("cargo::rerun-if-changed={}", directory.display());
    let Ok(search) = fs::read_to_string(directory.join("search")) else {
        return;
    };
    println!("cargo::rustc-cfg=with_c");
    println!("cargo::rustc-link-search=native={}", directory.display());
    for place in search.lines() {
        println!("cargo::rustc-link-search=native={place}");
    }
}
