//! Markup, with everything that came from a file spelled so that it stays text.

use super::super::output::printable;

/// Text between tags, and in attributes within double quotes.
pub(in crate::cli) fn text(words: &str) -> String {
    let mut safe = String::with_capacity(words.len());
    for character in printable(words).chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

/// A name from a file: whatever its letters, it does not turn the direction of what stands around it.
pub(in crate::cli) fn name(words: &str) -> String {
    element("bdi", "", &text(words))
}

/// Names of files in a row of a table: the first few, and how many more.
pub(in crate::cli) fn names(words: impl ExactSizeIterator<Item = String>) -> String {
    /// Names that are written out.
    const MOST: usize = 4;
    let more = words.len().saturating_sub(MOST);
    let mut names: Vec<String> = words.take(MOST).map(|words| name(&words)).collect();
    if more > 0 {
        names.push(format!("and {more} more"));
    }
    names.join(", ")
}

/// An element; `attributes` and `inner` are markup already.
pub(in crate::cli) fn element(tag: &str, attributes: &str, inner: &str) -> String {
    let space = if attributes.is_empty() { "" } else { " " };
    format!("<{tag}{space}{attributes}>{inner}</{tag}>")
}

/// A section with a heading that links can lead to.
pub(in crate::cli) fn section(id: &str, heading: &str, inner: &str) -> String {
    format!(
        "<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{}</h2>\n{inner}\n</section>",
        text(heading)
    )
}

/// A table; cells are markup already. The first cell of a row names it.
pub(in crate::cli) fn table(caption: &str, heads: &[&str], rows: &[Vec<String>]) -> String {
    let heads: String = heads
        .iter()
        .map(|head| element("th", "scope=\"col\"", &text(head)))
        .collect();
    let rows: String = rows
        .iter()
        .map(|cells| {
            let cells: String = cells
                .iter()
                .enumerate()
                .map(|(at, cell)| match at {
                    0 => element("th", "scope=\"row\"", cell),
                    _ => element("td", "", cell),
                })
                .collect();
            element("tr", "", &cells) + "\n"
        })
        .collect();
    format!(
        "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\"><table><caption>{caption}</caption>\
         <thead><tr>{heads}</tr></thead><tbody>\n{rows}</tbody></table></div>",
        caption = text(caption)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_from_a_file_stays_text() {
        assert_eq!(
            text("</td><script>\"x\" & 'y'\u{1b}[31m"),
            "&lt;/td&gt;&lt;script&gt;&quot;x&quot; &amp; &#39;y&#39;\\u{1b}[31m"
        );
        assert_eq!(name("<b>"), "<bdi>&lt;b&gt;</bdi>");
    }
}
