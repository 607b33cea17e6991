use super::*;
use sensor_math::table::Jump;

mod compiled;

fn rack() -> Controller {
    Controller {
        file: "firmware".to_owned(),
        prefix: "rack".to_owned(),
        title: "Rack */ beside a recording room".to_owned(),
        law: LawIntegers {
            kp: 1300,
            ki: 655,
            kd: 5000,
            scale: 8,
            filter_exponent: 3,
            lo: 6554,
            hi: 32767,
            action: Action::Direct,
        },
        table: Layout::Uniform {
            first: 182,
            last: 300,
            shift: 5,
            knots: vec![-1280, 0, 1000, 2000, -32768 / 4],
        },
        limits: Limits::new(182, 300, 20, 1000),
        temperature_fraction_bits: 7,
        integers: vec![("SET_POINT".to_owned(), -640)],
        refusal: None,
    }
}

/// The text without its comments.
fn code_of(text: &str) -> String {
    let mut code = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("/*") {
        code.push_str(before);
        rest = after.split_once("*/").expect("a comment ends").1;
    }
    code + rest
}

fn refusal(change: impl Fn(&mut Controller)) -> String {
    let mut controller = rack();
    change(&mut controller);
    emit(&controller).expect_err("must be refused").to_string()
}

#[test]
fn holds_no_library_no_float_and_no_allocation() {
    let pair = emit(&rack()).unwrap();
    let code = code_of(&pair.header) + &code_of(&pair.source);
    for word in ["float", "double", "malloc", "long", "inline", "//", "."] {
        let found = code
            .replace("stdint.h", "")
            .replace("firmware.h", "")
            .contains(word);
        assert!(!found, "{word:?} in\n{code}");
    }
    let includes: Vec<&str> = code
        .lines()
        .filter(|line| line.starts_with("#include"))
        .collect();
    assert_eq!(includes, ["#include <stdint.h>", "#include \"firmware.h\""]);
}

#[test]
fn a_comment_in_the_title_stays_a_comment() {
    let pair = emit(&rack()).unwrap();
    assert!(
        pair.header
            .starts_with("/* Rack * / beside a recording room: ")
    );
    assert!(!code_of(&pair.source).contains("recording"));
}

#[test]
fn every_integer_of_the_law_is_in_the_source() {
    let source = emit(&rack()).unwrap().source;
    for text in [
        "INT32_C(1300) * error",
        "INT32_C(655) * error",
        "INT32_C(5000) * slope",
        "state->filtered >> 3",
        "state->integral >> 8",
        "sum >>= 8",
        "INT32_C(429522944) - state->integral", // 6554 * 65536
        "INT32_C(2147483647) - state->integral", // 32767 * 65536 + 65535
        "state->integral = INT32_C(2147450880)", // full, with the rounding half
        "(int16_t)(measurement - set_point)",
    ] {
        assert!(source.contains(text), "{text} not in\n{source}");
    }
    assert!(
        emit(&rack())
            .unwrap()
            .header
            .contains("#define RACK_SET_POINT (-640)")
    );
}

#[test]
fn heating_turns_the_signs_and_starts_at_none() {
    let mut controller = rack();
    controller.law.action = Action::Reverse;
    let source = emit(&controller).unwrap().source;
    assert!(source.contains("(int16_t)(set_point - measurement)"));
    assert!(source.contains("(int16_t)(smooth - measurement)"));
    assert!(source.contains("state->filtered - slope"));
    assert!(source.contains("state->integral = INT32_C(429555712)")); // 6554 * 65536 + 32768
}

#[test]
fn a_law_without_derivative_has_no_filter() {
    let mut controller = rack();
    controller.law.kd = 0;
    let pair = emit(&controller).unwrap();
    assert!(!pair.header.contains("filtered;") && !pair.source.contains("slope"));
}

#[test]
fn a_range_from_code_zero_has_no_comparison_that_cannot_be_true() {
    let mut controller = rack();
    controller.table = Layout::Uniform {
        first: 0,
        last: u16::MAX,
        shift: 14,
        knots: vec![0, 1, 2, 3, 4],
    };
    let source = emit(&controller).unwrap().source;
    assert!(
        !source.contains("< 0u") && !source.contains("65535u) code"),
        "{source}"
    );
}

#[test]
fn refuses_what_the_arithmetic_cannot_carry_and_says_what_it_would_accept() {
    for (got, expected) in [
        (
            refusal(|c| c.prefix = "9rack".into()),
            "prefix \"9rack\"; accepted: a lower-case letter",
        ),
        (
            refusal(|c| c.law.scale = 16),
            "16 gain fraction bits; accepted: 1 to 15",
        ),
        (
            refusal(|c| c.law.kp = 65535),
            "kp + kd is 70535; accepted at this scale: up to 65281",
        ),
        (
            refusal(|c| c.law.lo = -1),
            "output limits -1..32767; accepted: 0 <= lo < hi",
        ),
        (refusal(|c| c.law.lo = 32767), "output limits 32767..32767"),
        (
            refusal(|c| c.law.filter_exponent = 16),
            "filter exponent 16; accepted: 0 to 15",
        ),
        (
            refusal(|c| {
                c.table = Layout::Uniform {
                    first: 0,
                    last: 64,
                    shift: 5,
                    knots: vec![0; 3],
                }
            }),
            "3 knots; this range needs 4",
        ),
        (
            refusal(|c| {
                c.table = Layout::Uniform {
                    first: 0,
                    last: 10,
                    shift: 5,
                    knots: vec![0, 0x4000],
                }
            }),
            "knots 0 and 16384 are too far apart",
        ),
        (
            refusal(|c| {
                c.table = Layout::Zones {
                    codes: (0, 10, 20, 30),
                    shifts: [2, 1, 0],
                    knots: vec![0; 40],
                }
            }),
            "a zone is not a whole number of its steps long",
        ),
    ] {
        assert!(got.contains(expected), "got {got:?}, expected {expected:?}");
    }
}

#[test]
fn refuses_a_packed_table_that_leaves_its_words() {
    let packed = |segments: u8, bytes: Vec<u8>, jumps: Vec<(u16, u16, u8, u8)>| Layout::Packed {
        first: 100,
        origin: 32000,
        segments,
        shape: 0x40, // unit 1, rising, exponent 4
        bytes,
        jumps: jumps
            .into_iter()
            .map(|(offset, climb, segment, exponent)| Jump {
                offset,
                climb,
                segment,
                exponent,
            })
            .collect(),
    };
    let mut controller = rack();
    let five = vec![0b01_00, 0, 50, 50, 0, 100, 100];
    controller.table = packed(5, five.clone(), vec![(112, 200, 4, 5)]);
    emit(&controller).unwrap();
    for (table, expected) in [
        (
            packed(5, five.clone(), vec![(112, 100, 4, 5)]),
            "does not stand at its start",
        ),
        (
            packed(5, five, vec![(112, 200, 4, 4)]),
            "does not stand at its start",
        ),
        (
            packed(3, vec![0b10, 255, 255], vec![]),
            "3 bytes; 3 segments need 4",
        ),
        (
            packed(4, vec![0, 255, 255, 255, 255], vec![]),
            "leave the codes or the temperature word",
        ),
        (
            packed(2, vec![0, 1, 1], vec![(0, 0, 7, 4)]),
            "jumps out of order",
        ),
    ] {
        let got = refusal(|c| c.table = table.clone());
        assert!(got.contains(expected), "got {got:?}, expected {expected:?}");
    }
}

#[test]
fn a_refusal_stops_the_compiler_before_anything_else() {
    let mut controller = rack();
    controller.refusal = Some("it \"hunts\"".to_owned());
    let header = emit(&controller).unwrap().header;
    let (before, after) = header.split_once("#error \"it 'hunts'\"").expect("refused");
    assert!(!code_of(before).contains("stdint") && after.contains("stdint"));
}

#[test]
fn integers_are_literals_of_the_type_that_holds_them() {
    for (value, text) in [
        (0, "0"),
        (-1, "(-1)"),
        (-32768, "(-32767 - 1)"),
        (40_000, "40000"),
        (0xffff_ffff, "4294967295u"),
    ] {
        assert_eq!(literal(value), text);
    }
}
