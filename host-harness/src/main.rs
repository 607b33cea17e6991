//! The program `hushloop`.
fn main() {}
