//! A design file as text with positions: every value is read through a [`Section`], so that whatever is
//! wrong is reported with file, line, key, value and what would be accepted.
//!
//! Reading goes over the parsed TOML tree and not through derived deserialisers: a legal range, its unit
//! and the sentence that explains them are one constant ([`Quantity`]), used by code, documentation
//! and error text alike, and all mistakes of a file are reported in one run.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;
use std::path::Path;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::quantity::Quantity;

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
    text: String,
    count: usize,
}

impl DesignError {
    /// A refusal that has no position inside a file: it cannot be read at all.
    #[must_use]
    pub fn unreadable(path: &Path, what: &str, accepted: &str) -> Self {
        Self {
            text: format!("error: {}: {what}\n  accepted: {accepted}", path.display()),
            count: 1,
        }
    }

    /// Number of mistakes reported.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }
}

impl fmt::Display for DesignError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl std::error::Error for DesignError {}

/// The text of a design file and the mistakes found in it so far.
pub(super) struct Document {
    path: String,
    text: String,
    problems: RefCell<Vec<Problem>>,
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
        let blocks: Vec<String> = problems
            .iter()
            .map(|p| {
                let report = &[Level::ERROR
                    .primary_title(p.what.as_str())
                    .element(
                        Snippet::source(self.text.as_str())
                            .path(self.path.as_str())
                            .annotation(AnnotationKind::Primary.span(self.clip(&p.span))),
                    )
                    .element(
                        Level::HELP
                            .with_name("accepted")
                            .message(p.accepted.as_str()),
                    )];
                Renderer::plain().render(report)
            })
            .collect();
        DesignError {
            text: blocks.join("\n\n"),
            count: blocks.len(),
        }
    }

    /// Keeps a span inside the text, on character boundaries, and on one line: a section that lacks a key is
    /// pointed at by its head line alone.
    fn clip(&self, span: &Range<usize>) -> Range<usize> {
        let floor = |mut at: usize| {
            at = at.min(self.text.len());
            while !self.text.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let start = floor(span.start);
        let line_end = self.text[start..]
            .find('\n')
            .map_or(self.text.len(), |n| start + n);
        start..floor(span.end).clamp(start, line_end)
    }
}

/// One table of a design file. Every key that is asked for counts as known; [`Section::finish`] turns the
/// rest into mistakes.
pub(super) struct Section<'d> {
    doc: &'d Document,
    name: String,
    span: Range<usize>,
    table: Option<&'d DeTable<'d>>,
    known: RefCell<BTreeSet<String>>,
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
        if self.name.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.name)
        }
    }

    fn get(&self, key: &str) -> Option<(&'d DeValue<'d>, Range<usize>)> {
        self.known.borrow_mut().insert(key.to_owned());
        let value = self.table?.get(key)?;
        Some((value.get_ref(), value.span()))
    }

    /// True when the section has this key.
    pub(super) fn holds(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    /// Where a key's value stands, or the head of the section when the key is absent.
    pub(super) fn span_of(&self, key: &str) -> Range<usize> {
        self.table
            .and_then(|t| t.get(key))
            .map_or(self.span.clone(), Spanned::span)
    }

    /// Records a mistake at a key.
    pub(super) fn problem(&self, key: &str, what: &str, accepted: &str) {
        let what = format!("`{}` {what}", self.label(key));
        self.doc
            .problem(self.span_of(key), what, accepted.to_owned());
    }

    fn missing(&self, key: &str, accepted: &str) {
        if self.table.is_some() {
            let what = format!("`{}` is missing", self.label(key));
            self.doc
                .problem(self.span.clone(), what, format!("{key} = {accepted}"));
        }
    }

    fn wrong_type(&self, key: &str, span: Range<usize>, accepted: &str) {
        let value = &self.doc.text[span.clone()];
        let value: String = value.chars().take(60).collect();
        self.doc.problem(
            span,
            format!("`{}` = {value} has the wrong type", self.label(key)),
            accepted.to_owned(),
        );
    }

    /// A sub-table. When it is absent and `required`, that is a mistake; reading from an absent section gives
    /// placeholders and no further mistakes.
    pub(super) fn section(&self, key: &str, required: bool) -> Section<'d> {
        let found = self.get(key);
        let (table, span) = match found {
            Some((DeValue::Table(table), span)) => (Some(table), span),
            Some((_, span)) => {
                self.wrong_type(
                    key,
                    span.clone(),
                    &format!("a section [{}]", self.label(key)),
                );
                (None, span)
            }
            None => {
                if required {
                    let what = format!("section [{}] is missing", self.label(key));
                    self.doc.problem(
                        self.span.clone(),
                        what,
                        format!("a section [{}]", self.label(key)),
                    );
                }
                (None, 0..0)
            }
        };
        Section {
            doc: self.doc,
            name: self.label(key),
            span,
            table,
            known: RefCell::default(),
        }
    }

    /// An array of tables, such as `[[scenario.event]]`; absent means empty.
    pub(super) fn sections(&self, key: &str) -> Vec<Section<'d>> {
        let accepted = format!("an array of tables [[{}]]", self.label(key));
        match self.get(key) {
            None => Vec::new(),
            Some((DeValue::Array(items), _)) => items
                .iter()
                .filter_map(|item| match item.get_ref() {
                    DeValue::Table(table) => Some(Section {
                        doc: self.doc,
                        name: self.label(key),
                        span: item.span(),
                        table: Some(table),
                        known: RefCell::default(),
                    }),
                    _ => {
                        self.wrong_type(key, item.span(), &accepted);
                        None
                    }
                })
                .collect(),
            Some((_, span)) => {
                self.wrong_type(key, span, &accepted);
                Vec::new()
            }
        }
    }

    /// A number that may be absent.
    pub(super) fn optional(&self, q: &Quantity) -> Option<f64> {
        let (value, span) = self.get(q.key)?;
        let text = match value {
            DeValue::Integer(n) if n.radix() == 10 => n.as_str(),
            DeValue::Float(n) => n.as_str(),
            _ => {
                self.wrong_type(q.key, span, &q.accepted());
                return None;
            }
        };
        let number: f64 = text.parse().unwrap_or(f64::NAN);
        if !q.holds(number) {
            let what = format!(
                "`{}` = {} is outside its legal range",
                self.label(q.key),
                text
            );
            self.doc.problem(span, what, q.accepted());
            return None;
        }
        Some(number)
    }

    /// A number that must be there unless its [`Quantity`] has a default.
    pub(super) fn number(&self, q: &Quantity) -> f64 {
        let absent = self.table.is_none_or(|t| !t.contains_key(q.key));
        match (self.optional(q), q.default) {
            (Some(number), _) => number,
            (None, Some(default)) => default,
            (None, None) => {
                if absent {
                    self.missing(q.key, &q.accepted());
                }
                q.placeholder()
            }
        }
    }

    /// One of a few words. Absent takes `default`, or is a mistake when there is none.
    pub(super) fn choice<T: Copy>(&self, key: &str, words: &[(&str, T)], default: Option<T>) -> T {
        let list: Vec<String> = words
            .iter()
            .map(|(word, _)| format!("\"{word}\""))
            .collect();
        let accepted = format!("one of {}", list.join(", "));
        match self.get(key) {
            Some((DeValue::String(word), span)) => {
                match words.iter().find(|(w, _)| *w == word.as_ref()) {
                    Some((_, value)) => return *value,
                    None => {
                        let what = format!(
                            "`{}` = \"{word}\" is not a word this key knows",
                            self.label(key)
                        );
                        self.doc.problem(span, what, accepted);
                    }
                }
            }
            Some((_, span)) => self.wrong_type(key, span, &accepted),
            None if default.is_none() => self.missing(key, &accepted),
            None => {}
        }
        default.unwrap_or(words[0].1)
    }

    /// A line of text.
    pub(super) fn text(&self, key: &str, default: &str) -> String {
        match self.get(key) {
            Some((DeValue::String(text), span)) => {
                if text.is_empty()
                    || text.chars().count() > 400
                    || text.chars().any(char::is_control)
                {
                    self.doc.problem(
                        span,
                        format!(
                            "`{}` is empty, too long or holds control characters",
                            self.label(key)
                        ),
                        "1 to 400 printable characters on one line".to_owned(),
                    );
                }
                text.to_string()
            }
            Some((_, span)) => {
                self.wrong_type(key, span, "text in quotes");
                default.to_owned()
            }
            None => default.to_owned(),
        }
    }

    /// A list of `[first, second]` number pairs, each number in the range of its quantity.
    pub(super) fn pairs(&self, key: &str, first: &Quantity, second: &Quantity) -> Vec<(f64, f64)> {
        let accepted = format!(
            "a list of pairs [{} {}, {} {}]",
            first.key, first.unit, second.key, second.unit
        );
        let Some((value, span)) = self.get(key) else {
            self.missing(key, &accepted);
            return Vec::new();
        };
        let DeValue::Array(rows) = value else {
            self.wrong_type(key, span, &accepted);
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
                        self.label(key),
                        &self.doc.text[row.span()]
                    );
                    let accepted = format!("[{}, {}]", first.accepted(), second.accepted());
                    self.doc.problem(row.span(), what, accepted);
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
            let list: Vec<&str> = known.iter().map(String::as_str).collect();
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
