//! What changed between two results, for review: every integer and every figure of the verdict.

use std::collections::BTreeMap;

use serde_json::Value;

/// One thing that changed: its name, the old value, the new one.
pub type Change = (String, String, String);

/// What stands for a value on the side that does not have it.
const ABSENT: &str = "(absent)";

/// Everything comparable in a result: the integers of `firmware.h` and `firmware.c` and the leaves of `verdict.json`.
fn facts(c: &str, verdict: &Value) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for line in c.lines() {
        if let Some((name, value)) = line
            .strip_prefix("#define ")
            .and_then(|rest| rest.split_once(' '))
        {
            out.insert(name.to_owned(), value.to_owned());
        }
    }
    // arrays: `static const int16_t name[19] = {` up to `};`
    for part in c.split("static const ").skip(1) {
        if let (Some((head, rest)), Some(name)) =
            (part.split_once('{'), part.split(['[', ' ']).nth(1))
        {
            let body = rest.split('}').next().unwrap_or("");
            let values: Vec<&str> = body
                .split(',')
                .map(str::trim)
                .filter(|v| !v.is_empty())
                .collect();
            let kind = head.split(' ').next().unwrap_or("");
            out.insert(format!("{name} ({kind})"), values.join(" "));
        }
    }
    leaves("verdict", verdict, &mut out);
    out
}

fn leaves(path: &str, value: &Value, out: &mut BTreeMap<String, String>) {
    match value {
        Value::Object(map) => map
            .iter()
            .for_each(|(key, value)| leaves(&format!("{path}.{key}"), value, out)),
        other => {
            out.insert(path.to_owned(), other.to_string());
        }
    }
}

/// Compares two results, each as (text of `firmware.h` and `firmware.c`, `verdict.json` parsed).
#[must_use]
pub fn changes(old: (&str, &Value), new: (&str, &Value)) -> Vec<Change> {
    let (old, new) = (facts(old.0, old.1), facts(new.0, new.1));
    let mut names: Vec<&String> = old.keys().chain(new.keys()).collect();
    names.sort();
    names.dedup();
    let value = |side: &BTreeMap<String, String>, name: &String| {
        side.get(name).cloned().unwrap_or_else(|| ABSENT.to_owned())
    };
    names
        .into_iter()
        .map(|name| (name.clone(), value(&old, name), value(&new, name)))
        .filter(|(_, old, new)| old != new)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_changed_a_new_and_a_lost_value_are_named_and_nothing_else() {
        let old = "#define LOOP_KP 12\n#define LOOP_OLD 1\nstatic const int16_t knots[2] = {\n    1, 2\n};\n";
        let new = "#define LOOP_KP 13\n#define LOOP_NEW 5\nstatic const int16_t knots[2] = {\n    1, 3\n};\n";
        let (a, b) = (
            json!({"good": true, "loop": {"peak": 1.5}}),
            json!({"good": true, "loop": {"peak": 1.25}}),
        );
        let found = changes((old, &a), (new, &b));
        let names: Vec<&str> = found.iter().map(|c| c.0.as_str()).collect();
        assert_eq!(
            names,
            [
                "LOOP_KP",
                "LOOP_NEW",
                "LOOP_OLD",
                "knots (int16_t)",
                "verdict.loop.peak"
            ]
        );
        assert_eq!(found[1].1, ABSENT);
        assert!(changes((old, &a), (old, &a)).is_empty());
    }
}
