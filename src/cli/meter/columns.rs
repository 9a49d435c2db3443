//! Columns that stand in line.

/// Between columns.
const GAP: &str = "  ";

/// Lines of cells: the first `text_columns` to the left, numbers to the right, and from `more_text` on to the left again.
pub(in crate::cli) fn aligned(
    lines: &[Vec<String>],
    text_columns: usize,
    more_text: usize,
) -> String {
    let columns = lines.first().map_or(0, Vec::len);
    let width = |column: usize| lines.iter().map(|line| line[column].chars().count()).max();
    let widths: Vec<usize> = (0..columns)
        .map(|column| width(column).unwrap_or(0))
        .collect();
    let mut text = String::new();
    for line in lines {
        let cells: Vec<String> = line
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(column, (cell, &width))| {
                if column < text_columns || column >= more_text {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            })
            .collect();
        text += cells.join(GAP).trim_end();
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_stand_in_line() {
        let line = |texts: [&str; 5]| texts.map(str::to_owned).to_vec();
        let lines = [
            line(["frame", "time", "settings", "EV", "x"]),
            line(["é.nef", "1", "-", "-1.0", "0.3"]),
        ];
        let text = aligned(&lines, 3, 5);
        let ends: Vec<usize> = text.lines().map(|line| line.chars().count()).collect();
        assert_eq!(ends[0], ends[1]);
        assert!(
            text.lines()
                .nth(1)
                .is_some_and(|line| line.ends_with(" -1.0  0.3"))
        );
        assert!(aligned(&lines, 3, 4).contains("EV  x\n"));
    }
}
