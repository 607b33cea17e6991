#![forbid(unsafe_code)]
// a reader of a pipe may go: everything is printed by `cli::out`, which does not panic then
#![deny(clippy::print_stdout, clippy::print_stderr)]
//! The host side of hushloop: reads a design, makes its tables and gains, tries them on a simulated plant,
//! checks every claim and writes what firmware needs. The program `hushloop` is a thin layer over this.

// What is wanted.
pub mod design;

// What is made of it, left to right along the signal path.
pub mod configured;
pub mod divider;
pub mod emit;
pub mod integers;
pub mod margins;
pub mod plan;
pub mod plant;
pub mod reference;
pub mod simulate;
pub mod tablegen;
pub mod tune;

// What may go wrong on the way.
pub mod faults;

// How each claim about it is known.
pub mod verify;

// What is said about it.
pub mod advice;
pub mod report;
pub mod verdict;

// Why something cannot be done, or not in time.
pub mod bounds;
pub mod failure;

// All of it together, and how it differs from last time.
pub mod against;
pub mod build;

// How people call it.
pub mod cli;
