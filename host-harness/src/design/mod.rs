//! The design file: TOML in, validated types out.
//!
//! `Design` is what every command works on. Nothing outside this module sees an unchecked number: a value
//! out of range, an unknown key or a missing section is refused here, with its place in the file.

mod accept;
mod actuator;
mod control;
mod document;
mod gains;
pub mod keys;
mod plant;
mod platinum;
mod sensing;
#[cfg(test)]
mod tests;

use std::path::Path;

pub use accept::{
    Accept, DEFAULT_LIMIT_ABOVE_SET_POINT, DEFAULT_PEAK_ABOVE_SET_POINT, DEFAULT_STEP_PERCENT,
};
pub use actuator::{Actuator, FAN_TICK_S, FanDesign, HeaterDesign, HeaterPwm};
pub use control::Control;
pub(crate) use control::duty_word;
pub use document::{DesignError, LARGEST_FILE_BYTES};
use document::{Document, Section};
pub use plant::{Event, PlantDesign, Scenario};
pub use platinum::{Class, Element, Tolerance};
pub use sensing::{
    Burst, Encoding, FORMATS, Sensing, SensorFacts, SensorKind, TableDesign, fraction_bits_for,
};

/// A whole design.
#[derive(Clone, Debug)]
pub struct Design {
    /// What people call it.
    pub title: String,
    /// Name for identifiers and file heads: the file's name without its ending.
    pub name: String,
    /// Sensor, divider, converter, table.
    pub sensing: Sensing,
    /// The loop and everything right of it.
    pub control: Control,
}

/// Reads a whole design.
///
/// # Errors
///
/// Everything that is wrong with the file, each mistake with line, key, value and what would be accepted.
pub fn load(path: &Path) -> Result<Design, DesignError> {
    let doc = Document::read(path)?;
    let (title, sensing, control) = read(&doc, true)?;
    let Some(control) = control else {
        return Err(doc.refusal());
    };
    let name = path
        .file_stem()
        .map_or_else(|| "design".to_owned(), |s| s.to_string_lossy().into_owned());
    Ok(Design {
        title,
        name,
        sensing,
        control,
    })
}

/// Reads the sensor sections of a design; the loop's may be absent. What is there must be right all the same.
///
/// # Errors
///
/// As [`load`].
pub fn load_sensing(path: &Path) -> Result<Sensing, DesignError> {
    load_with_loop(path).map(|(sensing, _)| sensing)
}

/// The same, with the loop when there is one.
///
/// # Errors
///
/// As [`load`].
pub fn load_with_loop(path: &Path) -> Result<(Sensing, Option<Control>), DesignError> {
    let doc = Document::read(path)?;
    read(&doc, false).map(|(_, sensing, control)| (sensing, control))
}

/// Reads a design from text, for tests and tools; `path` is only what errors call it.
///
/// # Errors
///
/// As [`load`].
pub fn parse(path: &str, text: &str) -> Result<Design, DesignError> {
    let doc = Document::from_text(path, text.to_owned());
    let (title, sensing, control) = read(&doc, true)?;
    let Some(control) = control else {
        return Err(doc.refusal());
    };
    Ok(Design {
        title,
        name: "design".to_owned(),
        sensing,
        control,
    })
}

fn read(doc: &Document, whole: bool) -> Result<(String, Sensing, Option<Control>), DesignError> {
    let table = doc.parse()?;
    let root = Section::root(doc, &table);
    let title = root.text(&keys::TITLE);
    let sensing = sensing::read(&root);
    let control = control::read(&root, sensing.as_ref(), whole);
    root.finish();
    match sensing {
        Some(sensing) if !doc.is_bad() => Ok((title, sensing, control)),
        _ => Err(doc.refusal()),
    }
}
