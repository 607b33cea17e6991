//! What a property is about, as data: nothing is ever told from a name.

use controller_core::law::Action;
use serde::Serialize;

/// How wide the law's comparisons are: see `controller_core::word::Multiply::WHOLE`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Comparison {
    /// Upper halves, as 8- and 16-bit machines compare.
    Halves,
    /// Whole words, as 32-bit machines do.
    Whole,
    /// The statement holds for both: it has none that could differ, or is carried over by `either`.
    Either,
}

/// Width, scale, filter, comparison and action of a property.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Scope {
    /// Bits of a signal: 8, 16 or 32.
    pub bits: u32,
    /// `SP`, fraction bits of `kp` and `kd`.
    pub scale: u32,
    /// `K` of the derivative's filter; nothing where the statement has none.
    pub filter: Option<u32>,
    /// Comparison.
    pub comparison: Comparison,
    /// Which case of a statement that has several; empty for the one and only.
    pub case: &'static str,
    /// Does the loop cool?
    pub cooling: bool,
}

/// The part of a scope that a catalogue writes beside each property.
#[derive(Clone, Copy, Debug)]
pub struct Tag {
    comparison: Comparison,
    filter: Option<u32>,
    case: &'static str,
}

/// Upper halves, no filter.
pub const HALVES: Tag = Tag::new(Comparison::Halves);
/// Whole words, no filter.
pub const WHOLE: Tag = Tag::new(Comparison::Whole);
/// For both comparisons, no filter.
pub const EITHER: Tag = Tag::new(Comparison::Either);

impl Tag {
    const fn new(comparison: Comparison) -> Self {
        Self {
            comparison,
            filter: None,
            case: "",
        }
    }

    /// With this filter.
    #[must_use]
    pub const fn filter(self, k: u32) -> Self {
        Self {
            filter: Some(k),
            ..self
        }
    }

    /// This case.
    #[must_use]
    pub const fn case(self, case: &'static str) -> Self {
        Self { case, ..self }
    }

    /// At this width, scale and action.
    #[must_use]
    pub fn at(self, bits: u32, scale: u32, action: Action) -> Scope {
        Scope {
            bits,
            scale,
            filter: self.filter,
            comparison: self.comparison,
            case: self.case,
            cooling: action == Action::Direct,
        }
    }
}

impl std::fmt::Display for Scope {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{} SP {}", self.bits, 2 * self.bits, self.scale)?;
        if let Some(k) = self.filter {
            write!(f, " K {k}")?;
        }
        if !self.case.is_empty() {
            write!(f, " {}", self.case)?;
        }
        match self.comparison {
            Comparison::Halves => f.write_str(" halves")?,
            Comparison::Whole => f.write_str(" whole")?,
            Comparison::Either => {}
        }
        f.write_str(if self.cooling { " cooling" } else { " heating" })
    }
}
