//! The registry of keys against the reader: neither knows a key that the other does not.

use std::collections::BTreeSet;

use super::document::Document;
use super::keys::{ALL, Absent, Kind};
use super::read;

const RACK: &str = include_str!("../../designs/studio-rack.toml");
const KETTLE: &str = include_str!("../../designs/brew-kettle.toml");

/// Keys of the registry that reading these files asked for.
fn asked(files: &[String]) -> BTreeSet<(&'static str, &'static str)> {
    let mut all = BTreeSet::new();
    for text in files {
        let doc = Document::from_text("test.toml", text.clone());
        // whether the file is right does not matter here
        let _ = read(&doc, true);
        all.append(&mut doc.asked.borrow_mut());
    }
    all
}

/// An entry that no reader asks for would be documented and refused. (The other way round does not compile: the
/// reader takes nothing but entries.)
#[test]
fn every_entry_of_the_registry_is_read() {
    let kind = |kind: &str| RACK.replace("kind = \"ntc-beta\"", kind);
    let mut files = vec![
        RACK.to_owned(),
        KETTLE.to_owned(),
        kind("kind = \"ntc-steinhart-hart\""),
        kind("kind = \"ntc-steinhart-hart\"\nthrough = [[0, 30000], [25, 10000], [70, 2000]]"),
        kind("kind = \"points\"\npoints = []"),
    ];
    let known: BTreeSet<(&str, &str)> = ALL
        .iter()
        .map(|key| (key.entry().section, key.entry().name))
        .collect();
    assert_eq!(known.len(), ALL.len(), "two entries of one name");
    let missing =
        |files: &[String]| -> Vec<_> { known.difference(&asked(files)).copied().collect() };
    assert_eq!(missing(&files), [], "in the registry, but never read");
    // and the test can fail: without the kettle nobody asks for a heater
    files.remove(1);
    assert!(missing(&files).contains(&("heater", "window_s")));
}

/// What an entry says of itself holds together.
#[test]
fn entries_are_consistent() {
    for key in ALL {
        let entry = key.entry();
        let label = entry.label();
        assert!(
            !entry.meaning.is_empty() && !entry.name.is_empty(),
            "{label}"
        );
        assert!(
            entry.section.is_empty()
                || ALL.iter().any(|k| k.entry().label() == entry.section
                    && matches!(k.entry().kind, Kind::Section | Kind::Sections)),
            "{label} stands in a section without an entry"
        );
        match (entry.kind, entry.absent) {
            (Kind::Number(range) | Kind::Whole(range), absent) => {
                assert!(range.min < range.max && !range.unit.is_empty(), "{label}");
                match absent {
                    Absent::Default(number) => assert!(range.holds(number), "{label}"),
                    other => assert!(!matches!(other, Absent::Word(_)), "{label}"),
                }
                if matches!(entry.kind, Kind::Whole(_)) {
                    assert!(
                        range.min.fract() == 0.0 && range.max.fract() == 0.0,
                        "{label}"
                    );
                    assert!(
                        range.min >= 0.0 && range.max <= f64::from(u32::MAX),
                        "{label}"
                    );
                }
            }
            (Kind::Words(words), Absent::Word(word)) => assert!(words.contains(&word), "{label}"),
            (_, absent) => assert!(!matches!(absent, Absent::Default(_)), "{label}"),
        }
    }
}
