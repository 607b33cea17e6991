//! Plays a solver, for the tests of what must not go wrong between the prover and a solver. It answers the questions of
//! `tests/plumbing.rs`, whose answers stand in the names of their unknowns, and misbehaves as its first argument says:
//!
//! `honest`, `unsat` (to everything), `sat` (to everything), `unknown` (to everything but decoys), `silent` (never
//! answers), `dies` (after one answer), `stranger` (numbers that were not asked), `twice` (one answer twice), `copies
//! FILE` (the answers of another solver, in its order), `records FILE` (honest, and writes what it answered).

use serde_json::{Value, json};
use std::io::{BufRead, Write};

fn honest(text: &str) -> (&'static str, Value) {
    if let Some(rest) = text.split("(= (* 7 x) ").nth(1) {
        let number: u64 = rest
            .split(')')
            .next()
            .and_then(|n| n.parse().ok())
            .unwrap_or(1);
        let verdict = if number.is_multiple_of(7) {
            "sat"
        } else {
            "unsat"
        };
        return (verdict, json!({}));
    }
    // A wrong claim about `wrong_x` fails at 3; everything else that is asked holds.
    if text.contains("wrong_x") {
        return ("sat", json!({ "wrong_x": "3" }));
    }
    if text.contains("(not ") {
        ("unsat", json!({}))
    } else {
        ("sat", json!({}))
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let how = arguments.first().map_or("honest", String::as_str);
    let copied: Vec<String> = match (how, arguments.get(1)) {
        ("copies", Some(file)) => std::fs::read_to_string(file)
            .unwrap_or_default()
            .lines()
            .map(str::to_string)
            .collect(),
        _ => Vec::new(),
    };
    let mut record = match (how, arguments.get(1)) {
        ("records", Some(file)) => std::fs::File::create(file).ok(),
        _ => None,
    };
    let mut out = std::io::stdout();
    for (n, line) in std::io::stdin()
        .lock()
        .lines()
        .map_while(Result::ok)
        .enumerate()
    {
        let question: Value = serde_json::from_str(&line).unwrap_or_default();
        let text = question["text"].as_str().unwrap_or_default();
        let (mut verdict, mut model) = honest(text);
        let mut id = question["id"].clone();
        match how {
            "unsat" => (verdict, model) = ("unsat", json!({})),
            "sat" => verdict = "sat",
            "unknown" if !text.contains("(* 7 x)") => verdict = "unknown",
            "silent" => std::thread::sleep(std::time::Duration::from_secs(3600)),
            "dies" if n == 1 => std::process::exit(9),
            "stranger" if n == 1 => id = json!(1),
            _ => {}
        }
        let answer =
            json!({ "id": id, "verdict": verdict, "model": model, "seconds": 0.0, "version": "0" });
        let mut text = answer.to_string();
        if how == "copies" {
            // In the place of its own answers those of the other, under the numbers it was asked now.
            let other: Value = copied
                .get(n)
                .and_then(|l| serde_json::from_str(l).ok())
                .unwrap_or_default();
            text = json!({ "id": id, "verdict": other["verdict"], "model": other["model"], "seconds": 0.0, "version": "0" }).to_string();
        }
        if let Some(file) = &mut record {
            let _ = writeln!(file, "{text}");
        }
        let _ = writeln!(out, "{text}");
        if how == "twice" && n == 0 {
            let _ = writeln!(out, "{text}");
        }
        let _ = out.flush();
    }
}
