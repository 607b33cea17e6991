//! Tolerance classes of platinum sensors: `a + b |t|`, each over a range of its own.
//!
//! Source: IEC 60751, tolerance classes of platinum resistance thermometers (2008, table 3; 2022 alike). The
//! formulae and the ranges of wire-wound elements were seen in reproductions; the ranges of film elements are from
//! memory.

/// A tolerance class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// 0.1 K + 0.0017 |t|.
    AA,
    /// 0.15 K + 0.002 |t|.
    A,
    /// 0.3 K + 0.005 |t|.
    B,
    /// 0.6 K + 0.01 |t|.
    C,
}

/// How the sensing element is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Element {
    /// A film on ceramics.
    Film,
    /// A wound wire.
    Wire,
}

/// A class for an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tolerance {
    /// The class.
    pub class: Class,
    /// The element.
    pub element: Element,
}

impl Tolerance {
    /// Largest error at a temperature, kelvin.
    ///
    /// ```
    /// use host_harness::design::{Class, Element, Tolerance};
    /// let b = Tolerance { class: Class::B, element: Element::Film };
    /// assert!((b.kelvin_at(-50.0) - 0.55).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn kelvin_at(&self, celsius: f64) -> f64 {
        let (at_zero, per_kelvin) = match self.class {
            Class::AA => (0.1, 0.0017),
            Class::A => (0.15, 0.002),
            Class::B => (0.3, 0.005),
            Class::C => (0.6, 0.01),
        };
        at_zero + per_kelvin * celsius.abs()
    }

    /// Where the class holds, degC.
    #[must_use]
    pub fn range_celsius(&self) -> (f64, f64) {
        match (self.class, self.element) {
            (Class::AA, Element::Wire) => (-50.0, 250.0),
            (Class::AA, Element::Film) => (0.0, 150.0),
            (Class::A, Element::Wire) => (-100.0, 450.0),
            (Class::A, Element::Film) => (-30.0, 300.0),
            (Class::B, Element::Wire) => (-196.0, 600.0),
            (Class::B, Element::Film) => (-50.0, 500.0),
            (Class::C, Element::Wire) => (-196.0, 600.0),
            (Class::C, Element::Film) => (-50.0, 600.0),
        }
    }
}
