//! Wrong design files: each is refused with file, line, key, value and what would be accepted.

use host_harness::design;

fn demo(name: &str) -> String {
    let path = format!(
        "{}/../host-harness/designs/{name}.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The rack's file with one line, found by its key, replaced.
fn rack_with(key: &str, line: &str) -> (String, usize) {
    let text = demo("studio-rack");
    let at = text
        .lines()
        .position(|l| l.starts_with(key))
        .unwrap_or_else(|| panic!("no {key} in the demo"));
    let mut lines: Vec<&str> = text.lines().collect();
    lines[at] = line;
    (lines.join("\n"), at + 1)
}

/// Parses and gives the refusal's text, its words with one space between them: where a line ends is no matter here.
fn refusal(text: &str) -> String {
    match design::parse("rack.toml", text) {
        Ok(_) => panic!("accepted:\n{text}"),
        Err(error) => {
            let text = error.to_string();
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        }
    }
}

#[test]
fn every_demo_design_is_accepted() {
    let mut seen = 0;
    for name in [
        "studio-rack",
        "seedling-tray",
        "brew-kettle",
        "studio-rack-hunting",
    ] {
        design::parse(name, &demo(name)).unwrap_or_else(|e| panic!("{e}"));
        seen += 1;
    }
    assert_eq!(seen, 4);
}

#[test]
fn one_wrong_line_is_named_with_its_place_and_what_would_be_accepted() {
    // key of the line, what it is replaced by, what the refusal must say
    let cases: [(&str, &str, &[&str]); 19] = [
        (
            "r25_ohm",
            "r25_kohm = 10",
            &[
                "r25_kohm",
                "did you mean `r25_ohm`",
                "`sensor.r25_ohm` is missing",
            ],
        ),
        (
            "set_point_celsius",
            "set_point_kelvin = 311",
            &["set_point_kelvin", "set_point_celsius"],
        ),
        (
            "r25_ohm",
            "r25_ohm = -10000",
            &["`sensor.r25_ohm` = -10000", "from 10 to"],
        ),
        (
            "resistor_ohm",
            "resistor_ohm = -1",
            &["`divider.resistor_ohm` = -1", "ohm"],
        ),
        (
            "beta_kelvin",
            "beta_kelvin = nan",
            &["`sensor.beta_kelvin` = nan", "500 to 10000"],
        ),
        ("beta_kelvin", "beta_kelvin = inf", &["inf", "500 to 10000"]),
        (
            "beta_kelvin",
            "beta_kelvin = \"3435\"",
            &["\"3435\" has the wrong type", "500 to 10000"],
        ),
        (
            "bits",
            "bits = 10.5",
            &["`adc.bits` = 10.5 is not a whole number", "8 to 16"],
        ),
        ("bits", "bits = 24", &["`adc.bits` = 24", "8 to 16"]),
        (
            "sensor_side",
            "sensor_side = \"top\"",
            &["\"top\"", "\"supply\", \"ground\""],
        ),
        (
            "set_point_celsius",
            "set_point_celsius = 120",
            &["= 120", "outside the table", "-10 to 100"],
        ),
        (
            "kp_percent_per_kelvin",
            "kp_percent_per_kelvin = 2000",
            &["`loop.kp_percent_per_kelvin`", "too large", "up to"],
        ),
        (
            "ki_percent_per_kelvin_second",
            "ki_percent_per_kelvin_second = 9",
            &["`loop.ki_percent_per_kelvin_second`", "too large"],
        ),
        (
            "ki_percent_per_kelvin_second",
            "ki_percent_per_kelvin_second = 0.0002",
            &[
                "`loop.ki_percent_per_kelvin_second`",
                "off by more than 1 %",
            ],
        ),
        (
            "ki_percent_per_kelvin_second",
            "ki_percent_per_kelvin_second = 1e-9",
            &["would round to 0 counts"],
        ),
        (
            "trip_celsius",
            "trip_celsius = 30",
            &["not above the set point"],
        ),
        (
            "hard_limit_celsius",
            "hard_limit_celsius = 40",
            &["below the acceptable peak", "peak_celsius = 42"],
        ),
        (
            "high_celsius",
            "high_celsius = -20",
            &["not above low_celsius"],
        ),
        (
            "spin_up_percent",
            "spin_up_percent = 15",
            &["below the floor", "floor_percent = 20"],
        ),
    ];
    for (key, line, said) in cases {
        let (text, number) = rack_with(key, line);
        let refusal = refusal(&text);
        for words in said {
            assert!(
                refusal.contains(words),
                "for `{line}` expected {words:?} in:\n{refusal}"
            );
        }
        assert!(refusal.contains("rack.toml:"), "no file in:\n{refusal}");
        let place = format!("rack.toml:{number}:");
        let elsewhere = matches!(key, "hard_limit_celsius" | "high_celsius");
        assert!(
            elsewhere || refusal.contains(&place),
            "expected {place} in:\n{refusal}"
        );
        assert!(
            refusal.contains("accepted"),
            "nothing accepted in:\n{refusal}"
        );
    }
}

#[test]
fn all_mistakes_of_a_file_are_reported_at_once() {
    let text = demo("studio-rack")
        .replace("bits = 10", "bits = 99")
        .replace("count = 2", "count = 0");
    let refusal = refusal(&text);
    assert!(
        refusal.contains("adc.bits") && refusal.contains("fan.count"),
        "{refusal}"
    );
}

/// What is missing is one mistake, not one for every key that hangs on it.
#[test]
fn a_missing_word_is_one_mistake() {
    for (word, demos) in [
        ("action", ["studio-rack", "brew-kettle"]),
        ("kind", ["studio-rack", "brew-kettle"]),
        ("sensor_side", ["studio-rack", "brew-kettle"]),
    ] {
        for name in demos {
            let text: Vec<String> = demo(name)
                .lines()
                .filter(|line| !line.starts_with(word))
                .map(str::to_owned)
                .collect();
            let error = design::parse("demo.toml", &text.join("\n")).expect_err(word);
            assert_eq!(error.count(), 1, "{name} without {word}:\n{error}");
            assert!(error.to_string().contains(word), "{error}");
        }
    }
    // nor is an unknown word more than one
    let (text, _) = rack_with("action", "action = \"cool\"");
    let error = design::parse("rack.toml", &text).expect_err("no such action");
    assert_eq!(error.count(), 1, "{error}");
}

#[test]
fn sections_that_do_not_belong_or_are_missing_are_named() {
    let text = demo("studio-rack") + "\n[heater]\nwindow_s = 2\n";
    assert!(refusal(&text).contains("`heater` has nothing to drive"));
    let text = demo("studio-rack").replace("[plant]", "[plnt]");
    let refused = refusal(&text);
    assert!(
        refused.contains("section [plant] is missing") && refused.contains("`plnt`"),
        "{refused}"
    );
    assert!(refusal("").contains("is empty"));
    assert!(refusal("   \n\n").contains("is empty"));
    assert!(refusal("[sensor\nkind = 3").contains("not TOML"));
    assert!(refusal("sensor = 3").contains("[sensor]"));
}

#[test]
fn a_set_point_outside_the_laws_domain_is_refused_even_inside_the_table() {
    // the domain at 1/128 degC ends below 128 degC; a wider table takes a coarser format with a wider domain
    let text = demo("studio-rack").replace("high_celsius = 100", "high_celsius = 140");
    let design = design::parse("rack.toml", &text).expect("a coarser format");
    assert_eq!(design.sensing.table.fraction_bits, 5);
    let text = text
        .replace("set_point_celsius = 38", "set_point_celsius = 600")
        .replace("trip_celsius = 46", "trip_celsius = 700")
        .replace("peak_celsius = 42", "peak_celsius = 700")
        .replace("hard_limit_celsius = 50", "hard_limit_celsius = 800");
    assert!(refusal(&text).contains("outside the table"));
}

#[test]
fn measured_points_must_be_monotone() {
    let with = |points: &str| {
        demo("studio-rack")
            .replace(
                "kind = \"ntc-beta\"",
                &format!("kind = \"points\"\npoints = {points}"),
            )
            .replace("r25_ohm = 10000\n", "")
            .replace("beta_kelvin = 3435\n", "")
    };
    assert!(
        design::parse(
            "rack.toml",
            &with("[[-20, 77500], [0, 28704], [25, 10000], [60, 2981], [110, 780]]")
        )
        .is_ok()
    );
    let refused = refusal(&with(
        "[[-20, 77500], [25, 10000], [25, 10000], [110, 780]]",
    ));
    assert!(refused.contains("sensor.points"), "{refused}");
    let refused = refusal(&with(
        "[[-20, 77500], [25, 10000], [60, 12000], [110, 780]]",
    ));
    assert!(refused.contains("sensor.points"), "{refused}");
    let refused = refusal(&with("[[-20, 77500], [25]]"));
    assert!(refused.contains("no legal pair"), "{refused}");
}

/// Steinhart-Hart from three points; the curve goes through them, whatever their order.
#[test]
fn fit_points_take_the_place_of_coefficients() {
    let with = |points: &str| {
        demo("studio-rack")
            .replace(
                "kind = \"ntc-beta\"",
                &format!("kind = \"ntc-steinhart-hart\"\nthrough = {points}"),
            )
            .replace("r25_ohm = 10000\n", "")
            .replace("beta_kelvin = 3435\n", "")
    };
    for points in [
        "[[0, 30000], [25, 10000], [70, 2000]]",
        "[[70, 2000], [0, 30000], [25, 10000]]",
    ] {
        let design = design::parse("rack.toml", &with(points)).unwrap_or_else(|e| panic!("{e}"));
        let curve = design.sensing.sensor.curve;
        for (celsius, ohm) in [(0.0, 30_000.0), (25.0, 10_000.0), (70.0, 2_000.0)] {
            assert!((curve.celsius_at(ohm) - celsius).abs() < 1e-9, "{celsius}");
        }
        // published/ntc.csv, NTC-FIT-S1-R40
        assert!((curve.ohm_at(40.0) - 5580.976258).abs() < 1e-5);
    }
    let mut refusals = 0;
    for (points, said) in [
        ("[[0, 30000], [25, 10000]]", "does not hold three points"),
        (
            "[[0, 30000], [25, 10000], [70, 2000], [80, 1500]]",
            "does not hold three points",
        ),
        (
            "[[0, 30000], [25, 10000], [25, 2000]]",
            "the same temperature",
        ),
        (
            "[[0, 30000], [25, 10000], [70, 10000]]",
            "the same temperature or the same resistance",
        ),
        ("[[0, 2000], [25, 10000], [70, 30000]]", "falls steadily"),
        ("[[0, 30000], [25, 40000], [70, 2000]]", "falls steadily"),
        ("[[0, 30000], [25, -1], [70, 2000]]", "sensor.through"),
        ("[[0, 30000], [25], [70, 2000]]", "sensor.through"),
    ] {
        let refused = refusal(&with(points));
        assert!(
            refused.contains(said)
                && refused.contains("sensor.through")
                && refused.contains("accepted"),
            "{points}: {refused}"
        );
        refusals += 1;
    }
    assert_eq!(refusals, 8);
    let both = with("[[0, 30000], [25, 10000], [70, 2000]]\nb_per_kelvin = 2e-4");
    assert!(refusal(&both).contains("beside fit points"));
}
