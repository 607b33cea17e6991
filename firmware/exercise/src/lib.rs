//! What the images run and the host repeats: the same inputs, the same subjects, the same checksums. Integers only.
#![no_std]
#![forbid(unsafe_code)]

pub mod cases;
pub mod checksum;
pub mod floor;
pub mod input;
pub mod laws;
pub mod tables;
