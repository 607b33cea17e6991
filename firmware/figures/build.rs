//! Picks the memory layout, and hands the C toolchain's objects and libraries to the linker where there is one.
//!
//! `HUSH_C` names a directory with `libhush_c.a` in it (the runner compiles it); without it the image holds no C.

use std::env;

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
    println!("cargo::rustc-check-cfg=cfg(with_c)");
    println!("cargo::rerun-if-env-changed=HUSH_C");
    if let Ok(directories) = env::var("HUSH_C") {
        println!("cargo::rustc-cfg=with_c");
        for (number, directory) in env::split_paths(&directories).enumerate() {
            println!("cargo::rustc-link-search=native={}", directory.display());
            if number == 0 {
                println!("cargo::rerun-if-changed={}", directory.display());
            }
        }
    }
}
