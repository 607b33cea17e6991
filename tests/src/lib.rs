//! What the checks of this package share: the published values of `published/`, with their sources.

pub mod plant;
pub mod random;

use std::path::Path;

/// One published value, as its row gives it.
#[derive(Clone, Debug)]
pub struct Row {
    /// Name of the row.
    pub id: String,
    /// What the value is.
    pub quantity: String,
    /// `name=value` pairs.
    pub inputs: Vec<(String, String)>,
    /// The value.
    pub expected: String,
    /// Its unit.
    pub unit: String,
    /// Half a unit of its last printed digit, `exact`, or a percentage.
    pub tolerance: String,
    /// Key of its source in `sources.toml`.
    pub source: String,
}

impl Row {
    /// An input by name.
    ///
    /// # Panics
    /// When the row has no such input, or it is not a number.
    #[must_use]
    pub fn input(&self, name: &str) -> f64 {
        let (_, value) = self
            .inputs
            .iter()
            .find(|(n, _)| n == name)
            .unwrap_or_else(|| panic!("{}: no input {name}", self.id));
        value
            .parse()
            .unwrap_or_else(|_| panic!("{}: {name}={value} is no number", self.id))
    }

    /// The value as a number.
    ///
    /// # Panics
    /// When it is none.
    #[must_use]
    pub fn number(&self) -> f64 {
        self.expected
            .parse()
            .unwrap_or_else(|_| panic!("{}: {} is no number", self.id, self.expected))
    }

    /// The tolerance as a distance: 0 for `exact`.
    ///
    /// # Panics
    /// When it is neither a number, a percentage nor `exact`.
    #[must_use]
    pub fn within(&self) -> f64 {
        match self.tolerance.strip_suffix('%') {
            Some(percent) => {
                percent.trim().parse::<f64>().expect("a percentage") / 100.0 * self.number().abs()
            }
            None if self.tolerance == "exact" => 0.0,
            None => self.tolerance.parse().expect("a tolerance"),
        }
    }

    /// Asserts that `got` is the published value, within its tolerance and the rounding of f64.
    ///
    /// # Panics
    /// When it is not.
    pub fn check(&self, got: f64) {
        let wanted = self.number();
        let allowed = self.within() + 4.0 * f64::EPSILON * wanted.abs();
        assert!(
            (got - wanted).abs() <= allowed,
            "{} ({}): {got}, published {wanted} +- {allowed} ({})",
            self.id,
            self.quantity,
            self.source
        );
    }
}

fn published(file: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("published")
        .join(file)
}

/// The rows of `published/<file>`.
///
/// # Panics
/// When the file cannot be read, or a row cites a source that `sources.toml` does not have.
#[must_use]
pub fn rows(file: &str) -> Vec<Row> {
    let sources = std::fs::read_to_string(published("sources.toml")).expect("sources.toml");
    let mut reader = csv::Reader::from_path(published(file)).expect("a file of published values");
    reader
        .records()
        .map(|record| {
            let record = record.expect("a row");
            let field = |at: usize| record.get(at).expect("ten columns").to_owned();
            let row = Row {
                id: field(0),
                quantity: field(1),
                inputs: field(2)
                    .split(';')
                    .filter_map(|pair| pair.rsplit_once('='))
                    .map(|(n, v)| (n.to_owned(), v.to_owned()))
                    .collect(),
                expected: field(3),
                unit: field(4),
                tolerance: field(5),
                source: field(6),
            };
            assert!(
                sources.contains(&format!("[\"{}\"]", row.source)),
                "{} cites {}, which sources.toml does not have",
                row.id,
                row.source
            );
            row
        })
        .collect()
}

/// The rows whose names begin like this; at least one.
///
/// # Panics
/// When there is none.
#[must_use]
pub fn rows_of(file: &str, prefix: &str) -> Vec<Row> {
    let found: Vec<Row> = rows(file)
        .into_iter()
        .filter(|row| row.id.starts_with(prefix))
        .collect();
    assert!(!found.is_empty(), "{file} has no row {prefix}*");
    found
}
