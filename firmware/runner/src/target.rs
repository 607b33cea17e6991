//! The four targets.

/// An instruction set with its simulator.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// 16-bit, no multiplier.
    Msp430,
    /// 8-bit with an 8x8 multiplier.
    Avr,
    /// Cortex-M0.
    Thumbv6m,
    /// 32-bit RISC-V with multiplier.
    Riscv32,
}

impl Target {
    /// All of them, smallest first.
    pub const ALL: [Self; 4] = [Self::Msp430, Self::Avr, Self::Thumbv6m, Self::Riscv32];

    /// As the compiler calls it.
    pub fn triple(self) -> &'static str {
        match self {
            Self::Msp430 => "msp430-none-elf",
            Self::Avr => "avr-none",
            Self::Thumbv6m => "thumbv6m-none-eabi",
            Self::Riscv32 => "riscv32imc-unknown-none-elf",
        }
    }

    /// What a figure of this target counts.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Msp430 | Self::Avr => "cycles",
            Self::Thumbv6m | Self::Riscv32 => "instructions",
        }
    }

    /// Counter steps in one unit. The Arm machine's counter runs at 16 MHz of simulated time, and one instruction
    /// takes 2^10 ns of it (`-icount shift=10`).
    pub fn counter_steps(self) -> f64 {
        match self {
            Self::Thumbv6m => 16.384,
            _ => 1.0,
        }
    }

    /// Bytes of return address on the stack when a function is called; the others keep it in a register.
    pub fn return_address(self) -> u32 {
        match self {
            Self::Msp430 | Self::Avr => 2,
            Self::Thumbv6m | Self::Riscv32 => 0,
        }
    }
}
