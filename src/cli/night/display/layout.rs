//! Where the parts of the night's bar stand: in one line, or below each other where that is too narrow for them.

/// Columns that a bar needs to tell anything.
const LEAST_BAR: usize = 10;
/// What stands around it.
const AROUND: usize = " [] ".len();

/// Where the parts stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Layout {
    /// Words, bar, words.
    OneLine,
    /// The same on three lines.
    BelowEachOther,
}

impl Layout {
    /// The layout for a terminal with so many columns; `None` where that is not known.
    pub(super) fn of(columns: Option<usize>, before: &str, after: &str) -> Self {
        let wanted = before.chars().count() + after.chars().count() + AROUND + LEAST_BAR;
        match columns {
            Some(columns) if columns < wanted => Self::BelowEachOther,
            _ => Self::OneLine,
        }
    }

    /// As the library for bars has it. Without colours, so that `NO_COLOR` needs no answer.
    pub(super) fn template(self) -> &'static str {
        match self {
            Self::OneLine => "{prefix} [{wide_bar}] {msg}",
            Self::BelowEachOther => "{prefix}\n[{wide_bar}]\n{wide_msg}",
        }
    }
}

/// The columns of the terminal on standard error.
pub(super) fn columns() -> Option<usize> {
    #[cfg(unix)]
    {
        let size = rustix::termios::tcgetwinsize(rustix::stdio::stderr()).ok()?;
        Some(usize::from(size.ws_col)).filter(|columns| *columns > 0)
    }
    #[cfg(not(unix))]
    {
        None
    }
}

/// As much of a text as so many columns hold.
pub(super) fn cut(text: &str, columns: Option<usize>) -> String {
    text.chars().take(columns.unwrap_or(usize::MAX)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_has_room_or_a_line_of_its_own() {
        let (before, after) = ("40 of 162 frames made", "0.50 frames/s, 4 min left");
        let fits = before.len() + after.len() + AROUND + LEAST_BAR;
        let of = |columns| Layout::of(columns, before, after);
        assert_eq!(of(None), Layout::OneLine);
        assert_eq!(of(Some(fits)), Layout::OneLine);
        assert_eq!(of(Some(fits - 1)), Layout::BelowEachOther);
        assert_eq!(cut("frames", Some(3)), "fra");
        assert_eq!(cut("frames", None), "frames");
    }
}
