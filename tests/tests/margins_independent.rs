//! Margins of the demo designs against another program: `independent/margins.py` writes the plants' equations down again from the
//! design files, linearises by complex steps, samples with scipy and asks python-control; its figures are in
//! `independent/margins.csv`. A change of a demo design or of the plant's equations asks for a run of it.

use std::path::Path;

use host_harness::design;
use host_harness::margins::operating;

#[test]
fn margins_of_the_demo_designs_at_every_operating_point() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(root.join("independent/margins.csv")).expect("figures");
    let mut checks = 0;
    let mut points = std::collections::BTreeMap::new();
    for record in reader.records() {
        let record = record.expect("a row");
        let name = record[0].to_owned();
        let field = |at: usize| record[at].parse::<f64>().expect("a number");
        let at_point: &mut usize = points.entry(name.clone()).or_default();
        let path = root.join(format!("../host-harness/designs/{name}.toml"));
        let found = operating::margins(&design::load(&path).expect("a demo design"));
        let at = &found[*at_point];
        let m = &at.margins;
        *at_point += 1;
        assert_eq!(
            (
                at.point.around.load_w,
                at.point.around.ambient_celsius,
                at.point.set_point_celsius
            ),
            (field(1), field(2), field(3)),
            "{name}"
        );
        assert!(
            (100.0 * at.point.duty - field(4)).abs() < 0.01,
            "{name}: {at:?}"
        );
        assert!(
            (m.gain_margin_db() - field(5)).abs() < 0.1,
            "{name}: {at:?}"
        );
        assert!(
            (m.phase_margin_degrees() - field(6)).abs() < 0.5,
            "{name}: {at:?}"
        );
        if field(7).is_finite() {
            assert!(
                (m.sensitivity_max / field(7) - 1.0).abs() < 0.005,
                "{name}: {at:?}"
            );
        } else {
            assert!(!m.stable, "{name}: {at:?}");
        }
        assert!(
            (m.limit_period_s() / field(8) - 1.0).abs() < 0.01,
            "{name}: {at:?}"
        );
        checks += 1;
        if *at_point == found.len() {
            *at_point = 0;
        }
    }
    assert!(
        points.values().all(|left| *left == 0),
        "an operating point has no figures: {points:?}"
    );
    assert_eq!(checks, 11);
}
