//! The fields of a configuration, told once beside the type that has them.
//!
//! [`Fields::walk`] hands every number to whoever walks: the checksum sums it, the host program writes
//! the firmware's module and header from it, compares two of them, and prints them with their units.
//! Each walk takes its type apart by name and entirely, so that a field that is forgotten does not
//! compile. On a target only the checksum walks; names and meanings are not in the image.

use crate::duty::Duty;
use crate::station::Checksum;

/// What a number counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Unit {
    /// A temperature in words of the loop's own format, `2^-F` degC.
    Temperature,
    /// A difference of temperatures in such words, `2^-F` K.
    Kelvin,
    /// Such words summed over samples.
    KelvinSamples,
    /// Duty, 1/32 767 of full.
    Duty,
    /// Duty a sample, 1/32 767 of full.
    DutyPerSample,
    /// Duty for a temperature, `2^-SP` duty steps a temperature word.
    Gain,
    /// The same a sample, `2^-16` duty steps.
    IntegralGain,
    /// Samples.
    Samples,
    /// Output ticks.
    Ticks,
    /// Clocks of the PWM timer.
    Clocks,
    /// Pulses of a tachometer in one window.
    Pulses,
    /// A plain number.
    Number,
    /// One of a few.
    Choice,
    /// A group of fields.
    Group,
}

/// What one field is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Field {
    /// Its name in the type's constructor.
    pub name: &'static str,
    /// Its piece of the name in a list, after those of the groups around it; empty adds nothing.
    pub label: &'static str,
    /// What it counts.
    pub unit: Unit,
    /// What it means.
    pub meaning: &'static str,
}

/// A field, called the same in the constructor and in a list.
#[inline(always)]
pub(crate) const fn field(name: &'static str, unit: Unit, meaning: &'static str) -> Field {
    labelled(name, name, unit, meaning)
}

/// A field with another piece of its name in a list.
#[inline(always)]
pub(crate) const fn labelled(
    name: &'static str,
    label: &'static str,
    unit: Unit,
    meaning: &'static str,
) -> Field {
    Field {
        name,
        label,
        unit,
        meaning,
    }
}

/// The value of one field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// 8 bits.
    Byte(u8),
    /// 16 bits.
    Word(u16),
    /// 16 bits with a sign.
    Signed(i16),
    /// 32 bits.
    Long(u32),
    /// A duty.
    Duty(Duty),
    /// One of a few: its path in Rust, and its code.
    Choice(&'static str, u8),
}

impl Value {
    /// As a plain integer; a choice is its code.
    #[must_use]
    pub const fn number(self) -> i64 {
        match self {
            Self::Byte(value) | Self::Choice(_, value) => value as i64,
            Self::Word(value) => value as i64,
            Self::Signed(value) => value as i64,
            Self::Long(value) => value as i64,
            Self::Duty(value) => value.bits() as i64,
        }
    }
}

/// How a value of the type is written in Rust, from its fields in the order of the walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Written {
    /// `path(first, second)`.
    Call(&'static str),
    /// `path { name: first, other: second }`.
    Struct(&'static str),
    /// `call(path { name: first, other: second })`.
    Parts(&'static str, &'static str),
    /// `path`, without any field.
    Name(&'static str),
    /// `[first, second]`.
    List,
}

/// Who walks over the fields of a configuration.
pub trait Walk: Sized {
    /// One number.
    fn value(&mut self, field: &Field, value: Value);
    /// One number that is no argument of the constructor: a const generic, or which variant it is.
    fn parameter(&mut self, field: &Field, value: Value);
    /// One part of a group of fields; all parts of one group come one after the other.
    fn part<T: Fields>(&mut self, field: &Field, group: &T, part: u8);
    /// A group that may be absent.
    fn option<T: Fields>(&mut self, field: &Field, group: Option<&T>);
    /// A whole group.
    #[inline(always)]
    fn group<T: Fields>(&mut self, field: &Field, group: &T) {
        let mut part = 0;
        while part < T::PARTS {
            self.part(field, group, part);
            part = part.wrapping_add(1);
        }
    }
}

/// A configuration that tells its fields.
///
/// ```
/// use controller_core::fields::{Field, Fields, Value, Walk};
/// use controller_core::guard::sensor::SensorConfig;
/// struct Names(Vec<(&'static str, i64)>);
/// impl Walk for Names {
///     fn value(&mut self, field: &Field, value: Value) {
///         self.0.push((field.label, value.number()));
///     }
///     fn parameter(&mut self, field: &Field, value: Value) {
///         self.value(field, value);
///     }
///     fn part<T: Fields>(&mut self, _field: &Field, group: &T, part: u8) {
///         group.walk_part(part, self);
///     }
///     fn option<T: Fields>(&mut self, field: &Field, group: Option<&T>) {
///         if let Some(group) = group {
///             self.group(field, group);
///         }
///     }
/// }
/// let mut names = Names(Vec::new());
/// SensorConfig::constant(4, 8).walk(&mut names);
/// assert_eq!(names.0, [("confirm", 4), ("recover", 8)]);
/// ```
pub trait Fields {
    /// Number of parts that are walked one at a time, at least 1, the same for every value of the
    /// type: the self-test sums one a sample.
    const PARTS: u8 = 1;

    /// How this value is written in Rust.
    fn written(&self) -> Written;

    /// Walks over the fields of one part, `0 .. PARTS`.
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W);

    /// Walks over all fields.
    #[inline]
    fn walk<W: Walk>(&self, walk: &mut W) {
        let mut part = 0;
        while part < Self::PARTS {
            self.walk_part(part, walk);
            part = part.wrapping_add(1);
        }
    }

    /// The checksum of all fields.
    ///
    /// ```
    /// use controller_core::fields::Fields;
    /// use controller_core::guard::sensor::SensorConfig;
    /// assert_ne!(SensorConfig::constant(3, 2).checksum(), SensorConfig::constant(2, 3).checksum());
    /// ```
    fn checksum(&self) -> u16 {
        let mut sum = Checksum::new();
        self.walk(&mut sum);
        sum.value()
    }
}

/// What the entries of a list are called; one alone needs no name.
const ENTRIES: [&str; 9] = ["1", "2", "3", "4", "5", "6", "7", "8", "9"];

/// The field of one entry of a list.
const fn entry(at: usize, of: usize, unit: Unit) -> Field {
    let label = if of == 1 || at >= ENTRIES.len() {
        ""
    } else {
        ENTRIES[at]
    };
    field(label, unit, "")
}

impl<T: Fields, const N: usize> Fields for [T; N] {
    const PARTS: u8 = {
        assert!(N * (T::PARTS as usize) < 200, "too many parts");
        N as u8 * T::PARTS
    };

    fn written(&self) -> Written {
        Written::List
    }

    #[inline]
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W) {
        let (mut at, mut within) = (0, part);
        while within >= T::PARTS {
            at += 1;
            within = within.wrapping_sub(T::PARTS);
        }
        if let Some(one) = self.get(at) {
            walk.part(&entry(at, N, Unit::Group), one, within);
        }
    }
}

impl<const N: usize> Fields for [i16; N] {
    fn written(&self) -> Written {
        Written::List
    }

    #[inline]
    fn walk_part<W: Walk>(&self, _part: u8, walk: &mut W) {
        for (at, word) in self.iter().enumerate() {
            walk.value(&entry(at, N, Unit::Duty), Value::Signed(*word));
        }
    }
}

#[cfg(test)]
mod tests;
