//! The keys of a design file: what an entry says, and the typed handles that the reader takes.
//!
//! Every key is one line of [`registry`]. The reader (`super::document`) takes nothing but these handles, whose
//! constructors are private to this module, so that a key without an entry cannot be read: it does not
//! compile. That every entry is read by somebody is a test (`design/tests.rs`).

pub mod registry;

pub use registry::*;

use serde_json::{Value, json};

/// The numbers that are legal, and their unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The unit in words.
    pub unit: &'static str,
    /// Smallest legal value.
    pub min: f64,
    /// Largest legal value.
    pub max: f64,
}

impl Range {
    /// True for a finite number inside the legal range.
    #[must_use]
    pub fn holds(&self, number: f64) -> bool {
        number >= self.min && number <= self.max
    }

    /// The range in words: `10 to 10000 ohm`.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{} to {} {}", plain(self.min), plain(self.max), self.unit)
    }
}

/// What may stand behind the equals sign.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// A number.
    Number(Range),
    /// A number without a fraction.
    Whole(Range),
    /// One of a few words, in quotes.
    Words(&'static [&'static str]),
    /// A line of text in quotes, of at most so many characters.
    Text(usize),
    /// A list of pairs of numbers, each number with its name.
    Pairs([(&'static str, Range); 2]),
    /// A section of its own.
    Section,
    /// Any number of sections of the same name.
    Sections,
}

impl Kind {
    /// The name of the kind, for machines.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Number(_) => "number",
            Self::Whole(_) => "whole number",
            Self::Words(_) => "word",
            Self::Text(_) => "text",
            Self::Pairs(_) => "pairs",
            Self::Section => "section",
            Self::Sections => "sections",
        }
    }
}

/// What becomes of a key that a file leaves out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absent {
    /// It must be given.
    Needed,
    /// It must be given under this condition, and means nothing otherwise.
    NeededWhen(&'static str),
    /// This number is taken.
    Default(f64),
    /// This word or text is taken.
    Word(&'static str),
    /// Its absence says something of its own, told here.
    Means(&'static str),
}

/// Everything that is said of a key, once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// The section it stands in, without brackets; empty for the head of the file.
    pub section: &'static str,
    /// The key; a number's ends in its unit.
    pub name: &'static str,
    /// What may stand behind it.
    pub kind: Kind,
    /// What becomes of it when a file leaves it out.
    pub absent: Absent,
    /// What it means.
    pub meaning: &'static str,
}

impl Entry {
    /// The key with its section, as errors call it.
    #[must_use]
    pub fn label(&self) -> String {
        label(self.section, self.name)
    }

    /// What may stand behind the key, in a few words.
    #[must_use]
    pub fn values(&self) -> String {
        match self.kind {
            Kind::Number(range) => range.words(),
            Kind::Whole(range) => format!("{}, whole", range.words()),
            Kind::Words(words) => quoted(words),
            Kind::Text(longest) => format!("text of at most {longest} characters"),
            Kind::Pairs([(a, first), (b, second)]) => {
                format!("[[{a}, {b}], ...]: {}; {}", first.words(), second.words())
            }
            Kind::Section => "a section".to_owned(),
            Kind::Sections => "sections, one for each".to_owned(),
        }
    }

    /// What becomes of the key when a file leaves it out, in a few words.
    #[must_use]
    pub fn when_absent(&self) -> String {
        match self.absent {
            Absent::Needed => "needed".to_owned(),
            Absent::NeededWhen(condition) => format!("needed when {condition}"),
            Absent::Default(number) => format!("default {}", plain(number)),
            Absent::Word(word) => format!("default \"{word}\""),
            Absent::Means(what) => format!("may be left out: {what}"),
        }
    }

    /// The sentence that says what would be accepted.
    #[must_use]
    pub fn accepted(&self) -> String {
        match self.kind {
            Kind::Number(Range { unit, min, max }) => format!(
                "a number of {unit} from {} to {} ({})",
                plain(min),
                plain(max),
                self.meaning
            ),
            Kind::Whole(Range { unit, min, max }) => format!(
                "a whole number of {unit} from {} to {} ({})",
                plain(min),
                plain(max),
                self.meaning
            ),
            Kind::Words(words) => format!("one of {} ({})", quoted(words), self.meaning),
            Kind::Text(longest) => {
                format!("1 to {longest} printable characters on one line, in quotes")
            }
            Kind::Pairs([(a, first), (b, second)]) => format!(
                "a list of pairs [[{a}, {b}], ...] with {a} of {} and {b} of {} ({})",
                first.words(),
                second.words(),
                self.meaning
            ),
            Kind::Section => format!("a section [{}]: {}", self.label(), self.meaning),
            Kind::Sections => format!("an array of tables [[{}]]: {}", self.label(), self.meaning),
        }
    }

    /// Everything, for machines. Numbers carry `unit`, `min` and `max`; words carry `words`; pairs carry `columns`.
    #[must_use]
    pub fn to_json(&self) -> Value {
        let mut out = json!({"section": self.section, "key": self.name, "kind": self.kind.name(),
            "meaning": self.meaning});
        let range = |r: Range| json!({"unit": r.unit, "min": r.min, "max": r.max});
        let merge = |out: &mut Value, more: Value| {
            if let (Value::Object(out), Value::Object(more)) = (out, more) {
                out.extend(more);
            }
        };
        match self.kind {
            Kind::Number(r) | Kind::Whole(r) => merge(&mut out, range(r)),
            Kind::Words(words) => out["words"] = json!(words),
            Kind::Text(longest) => out["longest"] = json!(longest),
            Kind::Pairs(columns) => {
                out["columns"] = columns
                    .iter()
                    .map(|(name, r)| {
                        let mut column = json!({"name": name});
                        merge(&mut column, range(*r));
                        column
                    })
                    .collect();
            }
            Kind::Section | Kind::Sections => {}
        }
        match self.absent {
            Absent::Needed => out["needed"] = json!(true),
            Absent::NeededWhen(condition) => out["needed_when"] = json!(condition),
            Absent::Default(number) => out["default"] = json!(number),
            Absent::Word(word) => out["default"] = json!(word),
            Absent::Means(what) => out["absent"] = json!(what),
        }
        out
    }

    /// The legal range of a number's or whole number's key.
    ///
    /// # Panics
    ///
    /// When it is a key of another kind.
    pub(super) const fn range(&self) -> Range {
        match self.kind {
            Kind::Number(range) | Kind::Whole(range) => range,
            _ => panic!("a number's entry"),
        }
    }

    /// A legal number to go on with after a mistake, so that one run reports them all.
    pub(super) fn placeholder(&self) -> f64 {
        let Range { min, max, .. } = self.range();
        min.max(1.0).min(max)
    }
}

/// A key with its section, as errors call it.
pub(super) fn label(section: &str, name: &str) -> String {
    if section.is_empty() {
        name.to_owned()
    } else {
        format!("{section}.{name}")
    }
}

fn quoted(words: &[&str]) -> String {
    let list: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    list.join(", ")
}

/// A handle of the registry: whatever its kind, it has an entry.
pub trait Key: Sync {
    /// What the registry says of it.
    fn entry(&self) -> &Entry;
}

macro_rules! handles {
    ($($(#[$doc:meta])* $handle:ident;)*) => { $(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $handle {
            entry: Entry,
        }

        impl Key for $handle {
            fn entry(&self) -> &Entry {
                &self.entry
            }
        }
    )* };
}

handles! {
    /// A key that holds a number.
    Number;
    /// A key that holds a whole number.
    Whole;
    /// A key that holds a line of text.
    Text;
    /// A key that holds a list of pairs of numbers.
    Pairs;
    /// A section.
    SectionKey;
    /// Any number of sections of the same name.
    SectionsKey;
}

impl Number {
    /// The unit in words.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        self.entry.range().unit
    }

    /// The largest legal value.
    #[must_use]
    pub const fn max(&self) -> f64 {
        self.entry.range().max
    }
}

/// A key that holds one of a few words, each of which stands for a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Words<T: 'static> {
    entry: Entry,
    values: &'static [T],
}

impl<T: Sync> Key for Words<T> {
    fn entry(&self) -> &Entry {
        &self.entry
    }
}

impl<T: Copy> Words<T> {
    /// The words with what they stand for, in the registry's order.
    pub fn list(&self) -> impl Iterator<Item = (&'static str, T)> {
        let words: &'static [&'static str] = match self.entry.kind {
            Kind::Words(words) => words,
            _ => &[],
        };
        words.iter().copied().zip(self.values.iter().copied())
    }

    /// What a word stands for; `None` for an unknown one.
    #[must_use]
    pub fn value(&self, word: &str) -> Option<T> {
        self.list()
            .find(|(w, _)| *w == word)
            .map(|(_, value)| value)
    }

    /// The word for a value; empty for a value that no word stands for.
    #[must_use]
    pub fn word(&self, value: T) -> &'static str
    where
        T: PartialEq,
    {
        self.list()
            .find(|(_, v)| *v == value)
            .map_or("", |(word, _)| word)
    }

    /// What is taken when the key is absent, if anything is.
    #[must_use]
    pub fn default(&self) -> Option<T> {
        match self.entry.absent {
            Absent::Word(word) => self.value(word),
            _ => None,
        }
    }
}

/// A number as a person writes it: no trailing zeros, no exponent within everyday sizes.
#[must_use]
pub fn plain(number: f64) -> String {
    if number != 0.0 && (number.abs() >= 1e7 || number.abs() < 1e-4) {
        format!("{number:e}")
    } else {
        format!("{number}")
    }
}
