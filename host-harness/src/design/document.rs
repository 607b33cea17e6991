//! A design file as text with positions: every value is read through a [`Section`], so that whatever is
//! wrong is reported with file, line, key, value and what would be accepted.
//!
//! Reading goes over the parsed TOML tree and not through derived deserialisers: a legal range, its unit
//! and the sentence that explains them are one entry of the registry ([`super::keys`]), used by code,
//! documentation and error text alike, and all mistakes of a file are reported in one run.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;
use std::path::Path;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::keys::Absent;
use super::keys::{
    Entry, Key, Kind, Number, Pairs, SectionKey, SectionsKey, Text, Whole, Words, label,
};

/// Largest design file that is read, bytes. A design is a page of text; anything larger is some other file.
pub const LARGEST_FILE_BYTES: u64 = 256 * 1024;

/// One mistake in a design file, with the bytes it stands at.
#[derive(Clone, Debug, PartialEq)]
struct Problem {
    span: Range<usize>,
    what: String,
    accepted: String,
}

/// Why a design file was refused: everything that is wrong with it, ready to print.
///
/// `Display` gives one block a mistake: what is wrong, `file:line:column`, the offending line, and what
/// would be accepted.
#[derive(Clone, Debug, PartialEq)]
pub struct DesignError {
    path: String,
    text: String,
    problems: Vec<Problem>,
}

/// Longest line of an error that nobody gave a width.
const WIDTH: usize = 100;
/// What stands before a message in an error's block, characters.
const BEFORE_MESSAGE: usize = 20;

impl DesignError {
    /// A refusal that has no position inside a file: it cannot be read at all.
    #[must_use]
    pub fn unreadable(path: &Path, what: &str, accepted: &str) -> Self {
        Self {
            path: path.display().to_string(),
            text: String::new(),
            problems: vec![Problem {
                span: 0..0,
                what: what.to_owned(),
                accepted: accepted.to_owned(),
            }],
        }
    }

    /// Number of mistakes reported.
    #[must_use]
    pub fn count(&self) -> usize {
        self.problems.len()
    }

    /// The text for people, no line longer than `width` where words allow it.
    #[must_use]
    pub fn to_text(&self, width: usize) -> String {
        let fill = |text: &str| {
            let options = textwrap::Options::new(width.saturating_sub(BEFORE_MESSAGE))
                .break_words(false)
                .word_splitter(textwrap::WordSplitter::NoHyphenation);
            textwrap::fill(text, options)
        };
        let block = |p: &Problem| {
            let (what, accepted) = (fill(&p.what), fill(&p.accepted));
            if self.text.is_empty() {
                // no snippet beside it: the path stands in the sentence, and is as long as it is
                let said = fill(&format!("error: {}: {}", self.path, p.what));
                return format!(
                    "{}\n  accepted: {}",
                    said.replace('\n', "\n  "),
                    accepted.replace('\n', "\n    ")
                );
            }
            let snippet = Snippet::source(self.text.as_str())
                .path(self.path.as_str())
                .annotation(AnnotationKind::Primary.span(clip(&self.text, &p.span)));
            let help = Level::HELP.with_name("accepted").message(&accepted);
            let report = &[Level::ERROR
                .primary_title(what)
                .element(snippet)
                .element(help)];
            Renderer::plain().term_width(width).render(report)
        };
        let blocks: Vec<String> = self.problems.iter().map(block).collect();
        blocks.join("\n\n")
    }
}

impl fmt::Display for DesignError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.to_text(WIDTH))
    }
}

impl std::error::Error for DesignError {}

/// The text of a design file and the mistakes found in it so far.
pub(super) struct Document {
    path: String,
    text: String,
    problems: RefCell<Vec<Problem>>,
    /// Every key that the reader has asked for.
    #[cfg(test)]
    pub(super) asked: RefCell<BTreeSet<(&'static str, &'static str)>>,
}

impl Document {
    /// Reads a file, refusing what cannot be a design: a directory, an empty, huge or non-UTF-8 file.
    pub(super) fn read(path: &Path) -> Result<Self, DesignError> {
        let refuse =
            |what: &str, accepted: &str| Err(DesignError::unreadable(path, what, accepted));
        let metadata = match std::fs::metadata(path) {
            Ok(metadata) => metadata,
            Err(error) => {
                return refuse(
                    &format!("cannot be opened: {error}"),
                    "the path of a readable TOML design file",
                );
            }
        };
        if metadata.is_dir() {
            return refuse("is a directory", "the path of a TOML design file inside it");
        }
        if metadata.len() > LARGEST_FILE_BYTES {
            return refuse(
                &format!("is {} bytes long", metadata.len()),
                &format!("a TOML design file of at most {LARGEST_FILE_BYTES} bytes"),
            );
        }
        let bytes = match std::fs::read(path) {
            Ok(bytes) => bytes,
            Err(error) => {
                return refuse(
                    &format!("cannot be read: {error}"),
                    "the path of a readable TOML design file",
                );
            }
        };
        let text = match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let line = 1 + error.as_bytes()[..at]
                    .iter()
                    .filter(|&&b| b == b'\n')
                    .count();
                let byte = error.as_bytes()[at];
                return refuse(
                    &format!("line {line} holds byte 0x{byte:02x}, which is not UTF-8"),
                    "UTF-8 text (TOML allows no other encoding)",
                );
            }
        };
        Ok(Self::from_text(&path.display().to_string(), text))
    }

    /// Wraps text that is already in memory; `path` is only what errors call it.
    pub(super) fn from_text(path: &str, text: String) -> Self {
        Self {
            path: path.to_owned(),
            text,
            problems: RefCell::new(Vec::new()),
            #[cfg(test)]
            asked: RefCell::default(),
        }
    }

    /// Parses the text, or says where it stops being TOML.
    pub(super) fn parse(&self) -> Result<Spanned<DeTable<'_>>, DesignError> {
        if self.text.trim().is_empty() {
            return Err(DesignError::unreadable(
                Path::new(&self.path),
                "is empty",
                "a TOML design with at least the sections [sensor], [divider], [adc] and [table]",
            ));
        }
        DeTable::parse(&self.text).map_err(|error| {
            self.problem(
                error.span().unwrap_or(0..0),
                format!("not TOML: {}", error.message()),
                "TOML 1.0 text".to_owned(),
            );
            self.refusal()
        })
    }

    /// Records a mistake.
    pub(super) fn problem(&self, span: Range<usize>, what: String, accepted: String) {
        self.problems.borrow_mut().push(Problem {
            span,
            what,
            accepted,
        });
    }

    /// True when a mistake has been recorded.
    pub(super) fn is_bad(&self) -> bool {
        !self.problems.borrow().is_empty()
    }

    /// All mistakes, in the order of the file, as one error.
    pub(super) fn refusal(&self) -> DesignError {
        let mut problems = self.problems.borrow().clone();
        problems.sort_by_key(|p| (p.span.start, p.span.end));
        DesignError {
            path: self.path.clone(),
            text: self.text.clone(),
            problems,
        }
    }
}

/// Keeps a span inside the text, on character boundaries, and on one line: a section that lacks a key is
/// pointed at by its head line alone.
fn clip(text: &str, span: &Range<usize>) -> Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    let line_end = text[start..].find('\n').map_or(text.len(), |n| start + n);
    start..floor(span.end).clamp(start, line_end)
}

/// One table of a design file. Every key that is asked for counts as known; [`Section::finish`] turns the
/// rest into mistakes.
pub(super) struct Section<'d> {
    doc: &'d Document,
    name: String,
    span: Range<usize>,
    table: Option<&'d DeTable<'d>>,
    known: RefCell<BTreeSet<&'static str>>,
}

impl<'d> Section<'d> {
    /// The whole file as a section without a name.
    pub(super) fn root(doc: &'d Document, table: &'d Spanned<DeTable<'d>>) -> Self {
        Self {
            doc,
            name: String::new(),
            span: 0..0,
            table: Some(table.get_ref()),
            known: RefCell::default(),
        }
    }

    /// True when the file has this section.
    pub(super) fn is_present(&self) -> bool {
        self.table.is_some()
    }

    /// The document, for mistakes that concern several sections.
    pub(super) fn document(&self) -> &'d Document {
        self.doc
    }

    fn label(&self, key: &str) -> String {
        label(&self.name, key)
    }

    /// What stands behind a key, which counts as known from now on.
    fn get(&self, key: &dyn Key) -> Option<(&'d DeValue<'d>, Range<usize>)> {
        let Entry { section, name, .. } = *key.entry();
        debug_assert_eq!(section, self.name, "{name} is read from another section");
        self.known.borrow_mut().insert(name);
        #[cfg(test)]
        self.doc.asked.borrow_mut().insert((section, name));
        let value = self.table?.get(name)?;
        Some((value.get_ref(), value.span()))
    }

    /// True when the section has this key.
    pub(super) fn holds(&self, key: &dyn Key) -> bool {
        self.get(key).is_some()
    }

    /// Where a key's value stands, or the head of the section when the key is absent.
    fn span_of(&self, key: &dyn Key) -> Range<usize> {
        self.table
            .and_then(|t| t.get(key.entry().name))
            .map_or(self.span.clone(), Spanned::span)
    }

    /// Records a mistake at a key.
    pub(super) fn problem(&self, key: &dyn Key, what: &str, accepted: &str) {
        let what = format!("`{}` {what}", key.entry().label());
        self.doc
            .problem(self.span_of(key), what, accepted.to_owned());
    }

    /// Records that a key is absent which must be there. In an absent section that is no further mistake.
    fn missing(&self, entry: &Entry) {
        if self.table.is_some() {
            let what = format!("`{}` is missing", entry.label());
            let accepted = format!("{} = {}", entry.name, entry.accepted());
            self.doc.problem(self.span.clone(), what, accepted);
        }
    }

    fn wrong_type(&self, entry: &Entry, span: Range<usize>) {
        let value = &self.doc.text[span.clone()];
        let value: String = value.chars().take(60).collect();
        self.doc.problem(
            span,
            format!("`{}` = {value} has the wrong type", entry.label()),
            entry.accepted(),
        );
    }

    fn part(&self, name: &str, span: Range<usize>, table: Option<&'d DeTable<'d>>) -> Section<'d> {
        Section {
            doc: self.doc,
            name: self.label(name),
            span,
            table,
            known: RefCell::default(),
        }
    }

    /// A sub-table. When it is absent and `required`, that is a mistake; reading from an absent section gives
    /// placeholders and no further mistakes.
    pub(super) fn section(&self, key: &SectionKey, required: bool) -> Section<'d> {
        let entry = key.entry();
        let (table, span) = match self.get(key) {
            Some((DeValue::Table(table), span)) => (Some(table), span),
            Some((_, span)) => {
                self.wrong_type(entry, span.clone());
                (None, span)
            }
            None => {
                if required {
                    let what = format!("section [{}] is missing", entry.label());
                    self.doc.problem(self.span.clone(), what, entry.accepted());
                }
                (None, 0..0)
            }
        };
        self.part(entry.name, span, table)
    }

    /// An array of tables, such as `[[scenario.event]]`; absent means empty.
    pub(super) fn sections(&self, key: &SectionsKey) -> Vec<Section<'d>> {
        let entry = key.entry();
        match self.get(key) {
            None => Vec::new(),
            Some((DeValue::Array(items), _)) => items
                .iter()
                .filter_map(|item| match item.get_ref() {
                    DeValue::Table(table) => Some(self.part(entry.name, item.span(), Some(table))),
                    _ => {
                        self.wrong_type(entry, item.span());
                        None
                    }
                })
                .collect(),
            Some((_, span)) => {
                self.wrong_type(entry, span);
                Vec::new()
            }
        }
    }

    /// A legal number behind a key; otherwise nothing, and a mistake when something else stands there.
    fn legal(&self, key: &dyn Key) -> Option<f64> {
        let entry = key.entry();
        let (value, span) = self.get(key)?;
        let text = match value {
            DeValue::Integer(n) if n.radix() == 10 => n.as_str(),
            DeValue::Float(n) => n.as_str(),
            _ => {
                self.wrong_type(entry, span);
                return None;
            }
        };
        let number: f64 = text.parse().unwrap_or(f64::NAN);
        let wrong = if !entry.range().holds(number) {
            "is outside its legal range"
        } else if matches!(entry.kind, Kind::Whole(_)) && number.fract() != 0.0 {
            "is not a whole number"
        } else {
            return Some(number);
        };
        let what = format!("`{}` = {text} {wrong}", entry.label());
        self.doc.problem(span, what, entry.accepted());
        None
    }

    /// The legal number behind a key, else its default, else a placeholder and a mistake.
    fn needed(&self, key: &dyn Key) -> f64 {
        let entry = key.entry();
        let absent = self.table.is_none_or(|t| !t.contains_key(entry.name));
        match (self.legal(key), entry.absent) {
            (Some(number), _) | (None, Absent::Default(number)) => number,
            (None, _) => {
                if absent {
                    self.missing(entry);
                }
                entry.placeholder()
            }
        }
    }

    /// A number that may be absent.
    pub(super) fn optional(&self, key: &Number) -> Option<f64> {
        self.legal(key)
    }

    /// A number that must be there unless its entry has a default.
    pub(super) fn number(&self, key: &Number) -> f64 {
        self.needed(key)
    }

    /// A whole number that may be absent.
    pub(super) fn optional_whole(&self, key: &Whole) -> Option<u32> {
        self.legal(key).map(|number| number as u32)
    }

    /// A whole number that must be there unless its entry has a default.
    pub(super) fn whole(&self, key: &Whole) -> u32 {
        self.needed(key) as u32
    }

    /// What the word behind a key stands for. Absent takes the default; nothing when there is none or the word
    /// is unknown, which is then a mistake: whoever asked knows best what not to ask further.
    pub(super) fn choice<T: Copy + Sync>(&self, key: &Words<T>) -> Option<T> {
        let entry = key.entry();
        match self.get(key) {
            Some((DeValue::String(word), span)) => {
                let known = key.value(word);
                if known.is_none() {
                    let what = format!(
                        "`{}` = \"{word}\" is not a word this key knows",
                        entry.label()
                    );
                    self.doc.problem(span, what, entry.accepted());
                }
                known
            }
            Some((_, span)) => {
                self.wrong_type(entry, span);
                None
            }
            None => {
                let default = key.default();
                if default.is_none() {
                    self.missing(entry);
                }
                default
            }
        }
    }

    /// A line of text, or the entry's default.
    pub(super) fn text(&self, key: &Text) -> String {
        let entry = key.entry();
        let default = match entry.absent {
            Absent::Word(word) => word,
            _ => "",
        };
        match self.get(key) {
            Some((DeValue::String(text), span)) => {
                let longest = match entry.kind {
                    Kind::Text(longest) => longest,
                    _ => usize::MAX,
                };
                if text.is_empty()
                    || text.chars().count() > longest
                    || text.chars().any(char::is_control)
                {
                    let what = format!(
                        "`{}` is empty, too long or holds control characters",
                        entry.label()
                    );
                    self.doc.problem(span, what, entry.accepted());
                }
                text.to_string()
            }
            Some((_, span)) => {
                self.wrong_type(entry, span);
                default.to_owned()
            }
            None => default.to_owned(),
        }
    }

    /// A list of `[first, second]` number pairs, each number in the range of its column.
    pub(super) fn pairs(&self, key: &Pairs) -> Vec<(f64, f64)> {
        let entry = key.entry();
        let Kind::Pairs([(_, first), (_, second)]) = entry.kind else {
            return Vec::new();
        };
        let Some((value, span)) = self.get(key) else {
            self.missing(entry);
            return Vec::new();
        };
        let DeValue::Array(rows) = value else {
            self.wrong_type(entry, span);
            return Vec::new();
        };
        let mut out = Vec::new();
        for row in rows {
            let pair: Option<Vec<f64>> =
                row.get_ref().as_array().filter(|r| r.len() == 2).map(|r| {
                    r.iter()
                        .map(|v| match v.get_ref() {
                            DeValue::Integer(n) if n.radix() == 10 => {
                                n.as_str().parse().unwrap_or(f64::NAN)
                            }
                            DeValue::Float(n) => n.as_str().parse().unwrap_or(f64::NAN),
                            _ => f64::NAN,
                        })
                        .collect()
                });
            match pair {
                Some(p) if first.holds(p[0]) && second.holds(p[1]) => out.push((p[0], p[1])),
                _ => {
                    let what = format!(
                        "`{}` holds {}, which is no legal pair",
                        entry.label(),
                        &self.doc.text[row.span()]
                    );
                    self.doc.problem(row.span(), what, entry.accepted());
                }
            }
        }
        out
    }

    /// Turns every key that nobody asked for into a mistake.
    pub(super) fn finish(&self) {
        let Some(table) = self.table else { return };
        let known = self.known.borrow();
        for (key, _) in table
            .iter()
            .filter(|(k, _)| !known.contains(k.get_ref().as_ref()))
        {
            let name = key.get_ref();
            let list: Vec<&str> = known.iter().copied().collect();
            let accepted = match nearest(name, &list) {
                Some(near) => format!("did you mean `{near}`? Known here: {}", list.join(", ")),
                None => format!("one of {}", list.join(", ")),
            };
            self.doc.problem(
                key.span(),
                format!("`{}` is not a key of this design", self.label(name)),
                accepted,
            );
        }
    }
}

/// The known key that a mistyped one most resembles, if it resembles any: the likeliest mistake in a format
/// with units in its keys is the right quantity in the wrong unit.
fn nearest<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    let alike = |k: &str| strsim::jaro_winkler(name, k);
    known
        .iter()
        .copied()
        .max_by(|a, b| alike(a).total_cmp(&alike(b)))
        .filter(|k| alike(k) > 0.8)
}
