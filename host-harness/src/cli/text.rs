//! Aligned plain text for terminals.

/// Rows of cells in columns, each as wide as its widest cell; the last column is not padded.
///
/// ```
/// use host_harness::cli::text::columns;
/// let text = columns(&[["peak", "41.2 degC"], ["settling", "300 s"]]);
/// assert_eq!(text, "peak      41.2 degC\nsettling  300 s\n");
/// ```
#[must_use]
pub fn columns<const N: usize>(rows: &[[impl AsRef<str>; N]]) -> String {
    let width = |column: usize| {
        rows.iter()
            .map(|r| r[column].as_ref().chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..N).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for (column, cell) in row.iter().enumerate() {
            line.push_str(cell.as_ref());
            if column + 1 < N {
                let pad = widths[column] - cell.as_ref().chars().count() + 2;
                line.extend(std::iter::repeat_n(' ', pad));
            }
        }
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
