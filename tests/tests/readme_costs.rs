//! The README's table of costs says what `benches/targets.csv` says.

use std::collections::BTreeMap;

const TARGETS: [&str; 4] = [
    "msp430-none-elf",
    "avr-none",
    "thumbv6m-none-eabi",
    "riscv32imc-unknown-none-elf",
];

/// Columns of a subject's row: mean, flash, RAM.
struct Costs(BTreeMap<(String, String), [f64; 3]>);

impl Costs {
    fn read() -> Self {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../benches/targets.csv");
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_path(path)
            .expect("the table of figures");
        let rows = reader.records().map(|row| {
            let row = row.expect("a row");
            let number = |column: usize| row[column].parse::<f64>().expect("a number");
            (
                (row[0].to_string(), row[2].to_string()),
                [number(3), number(5), number(6)],
            )
        });
        Self(rows.collect())
    }

    fn of(&self, target: &str, subject: &str) -> Option<[f64; 3]> {
        self.0
            .get(&(target.to_string(), subject.to_string()))
            .copied()
    }

    fn mean(&self, target: &str, subject: &str) -> f64 {
        self.of(target, subject).expect("a measured subject")[0]
    }

    /// The cheaper of the two float baselines: C is not there for every target.
    fn float(&self, target: &str, subject: &str) -> f64 {
        ["float-rust", "float-c"]
            .iter()
            .filter_map(|language| self.of(target, &format!("{language}/{subject}")))
            .map(|costs| costs[0])
            .fold(f64::INFINITY, f64::min)
    }
}

/// What one call costs on a target.
type Cost<'a> = Box<dyn Fn(&str) -> f64 + 'a>;

#[test]
fn the_readme_tells_the_measured_costs() {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../README.md"))
        .expect("the README");
    let costs = Costs::read();
    let mean = |subject: &'static str| -> Cost<'_> {
        let costs = &costs;
        Box::new(move |target| costs.mean(target, subject))
    };
    let image = |column: usize| -> Cost<'_> {
        let costs = &costs;
        Box::new(move |target| costs.of(target, "image/application").expect("an image")[column])
    };
    let float: Cost<'_> =
        Box::new(|target| costs.float(target, "pid") + costs.float(target, "temperature"));
    let rows: [(&str, Cost<'_>); 9] = [
        ("PI, one sample", mean("law/pi")),
        ("PID, one sample", mean("law/pid")),
        (
            "PID with gains fixed when compiled",
            mean("law/pid-constant"),
        ),
        ("code to degrees, uniform table", mean("lookup/uniform")),
        ("code to degrees, zones", mean("lookup/zones")),
        (
            "station with all its guards, one sample",
            mean("station/step"),
        ),
        (
            "PID and code to degrees in `float`, the best we could build",
            float,
        ),
        ("the whole application, bytes of flash", image(1)),
        ("the whole application, bytes of RAM with stack", image(2)),
    ];
    for (name, cost) in rows {
        let line = readme
            .lines()
            .find_map(|line| line.strip_prefix(&format!("| {name} | ")))
            .unwrap_or_else(|| panic!("no row `{name}` in the README"));
        let told: Vec<f64> = line
            .trim_end_matches('|')
            .split('|')
            .map(|cell| cell.trim().parse().expect("a number"))
            .collect();
        let measured: Vec<f64> = TARGETS.iter().map(|target| cost(target)).collect();
        assert_eq!(told.len(), TARGETS.len(), "{name}");
        for ((told, measured), target) in told.iter().zip(measured).zip(TARGETS) {
            assert!(
                (told - measured).abs() <= 0.501,
                "{name} on {target}: {told} told, {measured} measured"
            );
        }
    }
}
