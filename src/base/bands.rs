//! Row bands: the one place that knows threads.
//!
//! A picture is worked on in bands of rows that fit a processor's cache. The result never depends on how many threads
//! share the bands: each band writes its own rows, and nothing is summed across bands.

use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};

/// How bands are worked on: one after the other, or by several threads.
#[derive(Debug)]
pub struct Threads(Option<ThreadPool>);

impl Threads {
    /// One after the other, in this thread.
    #[must_use]
    pub fn one() -> Self {
        Self(None)
    }

    /// By `count` threads; one when the system refuses more.
    #[must_use]
    pub fn new(count: usize) -> Self {
        if count <= 1 {
            return Self::one();
        }
        Self(ThreadPoolBuilder::new().num_threads(count).build().ok())
    }

    /// How many bands are worked on at a time.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.as_ref().map_or(1, ThreadPool::current_num_threads)
    }

    /// Cuts `rows` (of `row_length` values each) into bands of at most `band_rows` rows and calls `work` with each band's
    /// first row number and its rows. `scratch` makes a working memory that bands of one thread use in turn.
    ///
    /// One thread takes the last band first: of whoever made the rows, the last ones are still in a cache, and the first ones will
    /// be for whoever reads them next.
    ///
    /// Panics when `row_length` or `band_rows` is 0.
    pub fn for_each_band<T, S>(
        &self,
        rows: &mut [T],
        row_length: usize,
        band_rows: usize,
        scratch: impl Fn() -> S + Sync + Send,
        work: impl Fn(&mut S, usize, &mut [T]) + Sync + Send,
    ) where
        T: Send,
        S: Send,
    {
        let chunk = row_length * band_rows;
        match &self.0 {
            None => {
                let mut memory = scratch();
                for (index, band) in rows.chunks_mut(chunk).enumerate().rev() {
                    work(&mut memory, index * band_rows, band);
                }
            }
            Some(pool) => pool.install(|| {
                rows.par_chunks_mut(chunk)
                    .enumerate()
                    .for_each_init(&scratch, |memory, (index, band)| {
                        work(memory, index * band_rows, band)
                    });
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_visited_once_whatever_the_threads() {
        // 1, band - 1, band, band + 1 and many rows; an odd width, so that a swapped width shows.
        for rows in [1, 3, 4, 5, 37] {
            let mut expected = vec![0usize; rows * 7];
            for (index, value) in expected.iter_mut().enumerate() {
                *value = index / 7 + 1;
            }
            for threads in [Threads::one(), Threads::new(3)] {
                let mut values = vec![0usize; rows * 7];
                threads.for_each_band(
                    &mut values,
                    7,
                    4,
                    || (),
                    |(), first, band| {
                        for (y, row) in band.chunks_mut(7).enumerate() {
                            for value in row {
                                *value += first + y + 1;
                            }
                        }
                    },
                );
                assert_eq!(values, expected);
            }
        }
    }
}
