//! Picks the memory layout, and the design: `HUSH_DESIGN` names a file in `designs/`, the studio rack otherwise.

use std::env;
use std::path::PathBuf;

fn main() {
    println!("cargo::rerun-if-env-changed=HUSH_DESIGN");
    let design = env::var("HUSH_DESIGN").unwrap_or_else(|_| "studio-rack".to_owned());
    let here =
        PathBuf::from(env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR"));
    let file = here.join("designs").join(design).with_extension("rs");
    println!("cargo::rustc-env=HUSH_FIRMWARE={}", file.display());

    let target = env::var("TARGET").expect("cargo sets TARGET");
    let layout = match target.split('-').next() {
        Some("msp430") => "msp430-8k.x",
        Some("thumbv6m") => "thumbv6m.x",
        Some("riscv32imc") => "riscv32imc.x",
        _ => return,
    };
    println!("cargo::rustc-link-arg-bins=-T{layout}");
}
