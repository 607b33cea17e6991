//! Messages over a serial port, a byte at a time.

use crate::{console, machine_receive};

/// Sends `out` to the host and waits for as many bytes as `into` holds.
pub fn exchange(out: &[u8], into: &mut [u8]) {
    for byte in out {
        console(*byte);
    }
    for byte in into {
        *byte = machine_receive();
    }
}
