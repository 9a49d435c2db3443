//! Where the engines' SQL differs: words in braces, and what each engine reads for them.

/// What an engine reads for the words in braces.
#[derive(Debug)]
pub(super) struct Dialect {
    /// Type of a column of bytes.
    pub(super) bytes: &'static str,
    /// Type of a column that numbers its rows.
    pub(super) id: &'static str,
    /// At the end of a selection: keep others from these rows until the transaction ends.
    pub(super) for_update: &'static str,
    /// The same, passing over rows that others keep.
    pub(super) skip_locked: &'static str,
}

impl Dialect {
    /// The statement as the engine reads it.
    pub(super) fn spoken(&self, statement: &str) -> String {
        statement
            .replace("{bytes}", self.bytes)
            .replace("{id}", self.id)
            .replace("{for update}", self.for_update)
            .replace("{skip locked}", self.skip_locked)
    }
}
