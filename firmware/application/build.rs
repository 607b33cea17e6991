//! Picks the memory layout.

fn main() {
    let target = std::env::var("TARGET").expect("cargo sets TARGET");
    let layout = match target.split('-').next() {
        Some("msp430") => "msp430-8k.x",
        Some("thumbv6m") => "thumbv6m.x",
        Some("riscv32imc") => "riscv32imc.x",
        _ => return,
    };
    println!("cargo::rustc-link-arg-bins=-T{layout}");
}
