//! Line charts as SVG text.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Size of a chart, pixels.
const SIZE: (u32, u32) = (920, 300);
/// Points a line is thinned to: more than one a pixel column cannot be seen.
const POINTS: usize = 1800;

/// Colours that people with any colour vision tell apart (Okabe and Ito, "Color Universal Design", 2008).
pub mod colour {
    use plotters::style::RGBColor;
    /// The integer law.
    pub const FIXED: RGBColor = RGBColor(0, 114, 178);
    /// The real-arithmetic law.
    pub const REAL: RGBColor = RGBColor(230, 159, 0);
    /// Set point and limits.
    pub const LIMIT: RGBColor = RGBColor(213, 94, 0);
    /// Proportional term.
    pub const P: RGBColor = RGBColor(0, 158, 115);
    /// Integral term.
    pub const I: RGBColor = RGBColor(86, 180, 233);
    /// Derivative term.
    pub const D: RGBColor = RGBColor(204, 121, 167);
    /// Axes and text.
    pub const INK: RGBColor = RGBColor(60, 60, 60);
}

/// One line of a chart.
pub struct Line {
    /// What it shows, for the legend.
    pub name: String,
    /// Its colour.
    pub colour: RGBColor,
    /// Its stroke, pixels.
    pub stroke: u32,
    /// Its points.
    pub points: Vec<(f64, f64)>,
}

impl Line {
    /// A line of ordinary stroke.
    #[must_use]
    pub fn new(name: &str, colour: RGBColor, points: Vec<(f64, f64)>) -> Self {
        Self {
            name: name.to_owned(),
            colour,
            stroke: 1,
            points,
        }
    }

    /// The same with a wider stroke, for what lies beneath another line.
    #[must_use]
    pub fn wide(mut self) -> Self {
        self.stroke = 3;
        self
    }
}

/// Thins a series to its smallest and largest value per column, so that no peak is lost.
fn thin(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    if points.len() <= POINTS {
        return points.to_vec();
    }
    let bucket = points.len().div_ceil(POINTS / 2);
    let mut out = Vec::with_capacity(POINTS + 2);
    for part in points.chunks(bucket) {
        let by_y = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
        let (Some(low), Some(high)) = (part.iter().min_by(by_y), part.iter().max_by(by_y)) else {
            continue;
        };
        if low.0 < high.0 {
            out.extend([*low, *high]);
        } else {
            out.extend([*high, *low]);
        }
    }
    out
}

/// Largest magnitude that has a place in a chart: beyond it no axis can be labelled.
const LARGEST: f64 = 1e9;

fn is_drawn(point: &(f64, f64)) -> bool {
    point.0.abs() <= LARGEST && point.1.abs() <= LARGEST
}

/// Draws lines into one chart; the axes take in every finite point. A line is interrupted where its points are not
/// finite: an error without bound has no height.
///
/// # Panics
///
/// Never: the SVG backend writes into a string and has nothing that can fail.
#[must_use]
pub fn chart(x_label: &str, y_label: &str, lines: &[Line]) -> String {
    let mut svg = String::new();
    draw(&mut svg, x_label, y_label, lines).expect("drawing into a string");
    // without the fixed size the picture fits the page
    let head = format!("<svg width=\"{}\" height=\"{}\" ", SIZE.0, SIZE.1);
    svg.replacen(&head, "<svg class=\"chart\" ", 1)
}

fn draw(
    svg: &mut String,
    x_label: &str,
    y_label: &str,
    lines: &[Line],
) -> Result<(), Box<dyn std::error::Error>> {
    let all = || {
        lines
            .iter()
            .flat_map(|l| l.points.iter())
            .filter(|p| is_drawn(p))
    };
    let span = |pick: fn(&(f64, f64)) -> f64, margin: f64| {
        let low = all().map(pick).fold(f64::INFINITY, f64::min);
        let high = all().map(pick).fold(f64::NEG_INFINITY, f64::max);
        if low > high {
            return 0.0..1.0; // nothing to show, but a frame
        }
        let room = ((high - low) * margin).max(1e-9 * high.abs()).max(1e-12);
        (low - room)..(high + room)
    };
    let root = SVGBackend::with_string(svg, SIZE).into_drawing_area();
    root.fill(&WHITE)?;
    let ink = |size: u32| ("sans-serif", size).into_font().color(&colour::INK);
    let mut chart = ChartBuilder::on(&root)
        .margin(8)
        .margin_right(20)
        .x_label_area_size(38)
        .y_label_area_size(64)
        .build_cartesian_2d(span(|p| p.0, 0.0), span(|p| p.1, 0.06))?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(RGBColor(225, 225, 225))
        .axis_style(colour::INK)
        .label_style(ink(13))
        .axis_desc_style(ink(14))
        .x_desc(x_label)
        .y_desc(y_label)
        .x_label_formatter(&|v| tidy(*v))
        .y_label_formatter(&|v| tidy(*v))
        .draw()?;
    for line in lines {
        let style = line.colour.stroke_width(line.stroke);
        for part in line
            .points
            .split(|p| !is_drawn(p))
            .filter(|p| !p.is_empty())
        {
            chart.draw_series(LineSeries::new(thin(part), style))?;
        }
    }
    // a legend in one row on top of the plot, each name in its colour's place
    let mut x = 84;
    for line in lines.iter().filter(|l| !l.name.is_empty()) {
        root.draw(&Rectangle::new(
            [(x, 12), (x + 16, 16)],
            line.colour.filled(),
        ))?;
        let style = ink(13).pos(Pos::new(HPos::Left, VPos::Center));
        root.draw(&Text::new(line.name.clone(), (x + 22, 14), style))?;
        x += 44 + 7 * line.name.chars().count() as i32;
    }
    root.present()?;
    Ok(())
}

/// An axis number without trailing zeros.
fn tidy(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The error budget of a code that a corner pushes to the rail is infinite: it must not be drawn for ever.
    #[test]
    fn points_without_bound_interrupt_a_line_and_end_the_drawing() {
        let infinite = f64::INFINITY;
        for values in [
            vec![1.0, infinite, 2.0, 3.0],
            vec![infinite, 1.0, 2.0, f64::NAN],
            vec![infinite; 4],
            vec![-infinite, 1e300, 2.0, 3.0],
            vec![],
        ] {
            let points = values
                .iter()
                .enumerate()
                .map(|(x, y)| (x as f64, *y))
                .collect();
            let svg = chart("x", "y", &[Line::new("line", colour::FIXED, points)]);
            assert!(
                svg.ends_with("</svg>\n") && svg.len() < 100_000,
                "{values:?}"
            );
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{values:?}");
        }
    }
}
