//! The last words of a worker: the end of what it wrote to its standard error.

use std::io::Read;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// Bytes kept: enough for the last few lines, however many thousand a decoder prints.
const KEPT: usize = 4096;

/// Reads a stream to its end in a thread of its own, keeping the last bytes only.
#[derive(Debug)]
pub(super) struct Tail {
    kept: Arc<Mutex<Vec<u8>>>,
    reader: JoinHandle<()>,
}

impl Tail {
    pub(super) fn of(mut stream: impl Read + Send + 'static) -> Self {
        let kept = Arc::new(Mutex::new(Vec::new()));
        let shared = Arc::clone(&kept);
        let reader = std::thread::spawn(move || {
            let mut buffer = [0; KEPT];
            while let Ok(count @ 1..) = stream.read(&mut buffer) {
                let mut kept = shared.lock().unwrap_or_else(PoisonError::into_inner);
                kept.extend_from_slice(&buffer[..count]);
                let surplus = kept.len().saturating_sub(KEPT);
                kept.drain(..surplus);
            }
        });
        Self { kept, reader }
    }

    /// The last words, once the stream has ended.
    pub(super) fn text(self) -> String {
        let _ = self.reader.join();
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        String::from_utf8_lossy(&kept).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_end_of_a_flood_is_kept() {
        let mut flood = vec![b'x'; 3 * KEPT + 1];
        flood.extend_from_slice(b"last words");
        let text = Tail::of(std::io::Cursor::new(flood)).text();
        assert_eq!(text.len(), KEPT);
        assert!(text.ends_with("xlast words"));
    }
}
