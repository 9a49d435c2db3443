//! How much of the scratch folder is taken, in bytes.

use std::cell::Cell;
use std::rc::Rc;

/// What may be taken, and what is.
#[derive(Debug)]
pub(super) struct Shares {
    most: u64,
    taken: Rc<Cell<u64>>,
}

/// A part that is taken, until it is dropped.
#[derive(Debug)]
pub(super) struct Share {
    bytes: u64,
    taken: Rc<Cell<u64>>,
}

impl Shares {
    pub(super) fn of(most: u64) -> Self {
        Self {
            most,
            taken: Rc::default(),
        }
    }

    /// Takes so many bytes; `None` when they must wait for others. Alone, a share may be as large as it must.
    pub(super) fn take(&self, bytes: u64) -> Option<Share> {
        let taken = self.taken.get();
        let after = taken.saturating_add(bytes);
        if taken > 0 && after > self.most {
            return None;
        }
        self.taken.set(after);
        Some(Share {
            bytes,
            taken: Rc::clone(&self.taken),
        })
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        self.taken.set(self.taken.get().saturating_sub(self.bytes));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_taken_than_there_is_but_by_one_alone() {
        let shares = Shares::of(100);
        let first = shares.take(60).expect("room");
        let second = shares.take(40).expect("room to the last byte");
        assert!(shares.take(1).is_none());
        drop(first);
        let third = shares.take(60).expect("room again");
        assert!(shares.take(1).is_none());
        drop((second, third));
        let large = shares.take(500).expect("alone");
        assert!(shares.take(1).is_none());
        drop(large);
        assert!(shares.take(100).is_some());
    }
}
