//! What is proven about the control law, on the very source that ships.
//!
//! The law is generic over its words. Here it runs on *intervals*, which bounds every intermediate, and on *symbols*,
//! which turns it into questions for solvers. The questions are fixed text: what two solvers answered, once, is
//! kept in a [`certificate`], which holds for as long as the sources still ask the same.
//!
//! This library is what the program `hushloop` needs of it: the words, the properties of every configuration that a
//! design can get ([`designs`]), and their certificate. The binary `prove` of this package asks the solvers, and
//! has the other widths, scales and forms of the law.

// Words and expressions
pub mod expression;
pub mod fork;
pub mod interval;
pub mod symbol;

// Claims
pub mod begins;
pub mod designs;
pub mod either;
pub mod planted;
pub mod property;
pub mod scope;

// Ways to know
pub mod overflow;
pub mod smt;
pub mod solve;
pub mod wire;

// What is kept
pub mod certificate;

#[cfg(test)]
mod overflow_forms;
#[cfg(test)]
mod words;

/// Calls `$body` with `$scale` as the constant `SP`, at every scale of 16/32.
#[cfg(test)]
macro_rules! with_any_scale {
    ($scale:expr, $sp:ident => $body:expr, else $other:expr) => {
        with_any_scale!(@ $scale, $sp => $body, $other, 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15)
    };
    (@ $scale:expr, $sp:ident => $body:expr, $other:expr, $($value:literal)*) => {
        match $scale {
            $($value => { const $sp: u32 = $value; $body })*
            _ => $other,
        }
    };
}
#[cfg(test)]
use with_any_scale;
