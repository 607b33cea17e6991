//! Aligned plain text for terminals, no line longer than they are wide.

use std::io::IsTerminal;

use terminal_size::{Width, terminal_size_of};
use textwrap::{Options, WordSplitter};

/// Longest line when nobody says how wide the reader is: a pipe, a file.
const PIPED: usize = 100;
/// A terminal narrower than this gets lines of this length.
const NARROWEST: usize = 40;
/// A last column narrower than this goes below its row instead.
const LAST_COLUMN: usize = 24;
/// Characters between columns, and between those of a table of figures that would be too wide with them.
const GAPS: [usize; 2] = [2, 1];

/// Longest line for standard output: the terminal's width (at most 100), or 100 when it is none.
#[must_use]
pub fn width() -> usize {
    let out = std::io::stdout();
    width_when(out.is_terminal(), terminal_size_of(&out))
}

/// The same for standard error.
#[must_use]
pub fn width_of_errors() -> usize {
    let out = std::io::stderr();
    width_when(out.is_terminal(), terminal_size_of(&out))
}

fn width_when(terminal: bool, size: Option<(Width, terminal_size::Height)>) -> usize {
    match size {
        Some((Width(columns), _)) if terminal => usize::from(columns).clamp(NARROWEST, PIPED),
        _ => PIPED,
    }
}

/// Rows of cells in columns, each as wide as its widest cell; the last column is not padded but wrapped to the
/// [`width`] of standard output.
///
/// ```
/// use host_harness::cli::text::columns;
/// let text = columns(&[["peak", "41.2 degC"], ["settling", "300 s"]]);
/// assert_eq!(text, "peak      41.2 degC\nsettling  300 s\n");
/// ```
#[must_use]
pub fn columns<const N: usize>(rows: &[[impl AsRef<str>; N]]) -> String {
    columns_in(rows, width())
}

/// The same for a given longest line.
#[must_use]
pub fn columns_in<const N: usize>(rows: &[[impl AsRef<str>; N]], width: usize) -> String {
    let widest = |column: usize| {
        rows.iter()
            .map(|r| r[column].as_ref().chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..N - 1).map(widest).collect();
    let figures = widest(N - 1);
    let tight = figures < LAST_COLUMN
        && widths.iter().map(|w| w + GAPS[0]).sum::<usize>() + figures > width;
    let gap = GAPS[usize::from(tight)];
    let beside: usize = widths.iter().map(|w| w + gap).sum();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let cell = cell.as_ref();
            line.push_str(cell);
            line.extend(std::iter::repeat_n(' ', width + gap - cell.chars().count()));
        }
        let last = row[N - 1].as_ref();
        let fits = beside + last.chars().count() <= width;
        if !fits && beside + LAST_COLUMN > width {
            out.push_str(line.trim_end());
            out.push('\n');
            out.push_str(&indented(last, "      ", "      ", width));
        } else {
            let hanging = " ".repeat(beside);
            out.push_str(&indented(last, &line, &hanging, width));
        }
    }
    out
}

/// A paragraph, wrapped to the [`width`] of standard output; later lines hang by `indent`.
#[must_use]
pub fn paragraph(text: &str, indent: &str) -> String {
    indented(text, "", indent, width())
}

fn indented(text: &str, first: &str, later: &str, width: usize) -> String {
    let options = Options::new(width)
        .initial_indent(first)
        .subsequent_indent(later)
        .word_splitter(WordSplitter::NoHyphenation);
    let mut out = String::new();
    for line in textwrap::wrap(text, options) {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// A time as a person says it: seconds, then minutes, then hours.
#[must_use]
pub fn duration(seconds: f64) -> String {
    if seconds < 180.0 {
        format!("{seconds:.0} s")
    } else if seconds < 3.0 * 3600.0 {
        format!("{:.1} min", seconds / 60.0)
    } else {
        format!("{:.1} h", seconds / 3600.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_longer_than_asked_and_no_word_is_lost() {
        let long =
            "every word of this sentence must come out again, in its order, on lines that fit";
        for width in [40, 60, 80, 100] {
            let rows = [["name", long], ["a longer name than that", "short"]];
            let text = columns_in(&rows, width);
            assert!(
                text.lines().all(|line| line.chars().count() <= width),
                "{width}:\n{text}"
            );
            let words: Vec<&str> = text.split_whitespace().collect();
            assert_eq!(
                words.join(" "),
                format!("name {long} a longer name than that short")
            );
        }
        // figures that do not fit with two spaces between them stand with one
        let rows = [["a name", "12345", "67"], ["b", "1", "1.25"]];
        assert_eq!(
            columns_in(&rows, 18),
            "a name 12345 67\nb      1     1.25\n"
        );
        assert_eq!(
            columns_in(&rows, 19),
            "a name  12345  67\nb       1      1.25\n"
        );
        // too wide to stand beside anything: the last cell goes below
        let text = columns_in(&[["a name of more than half the width", long]], 40);
        assert!(
            text.starts_with("a name of more than half the width\n      every"),
            "{text}"
        );
    }
}
