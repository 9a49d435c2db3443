//! Row kernels: one plain loop, compiled once for each vector width the machine may have.
//!
//! A kernel is a loop over slices that a compiler can vectorise by itself. [`row_kernel!`] keeps the loop as written
//! under `name::plain` and makes `name`, which picks the widest compiled copy at run time. No copy may contract a
//! product and a sum into one rounding by itself, and none may reorder: every copy therefore gives the same bits as the
//! plain loop, on every machine, and the tests hold them to that. Where a loop is bound by arithmetic it asks for the
//! fused product and sum (`mul_add`) by name, which has one rounding everywhere: an instruction where there is AVX2 or 64-bit
//! ARM, elsewhere a call into the system's mathematics, ten times slower and equal. So a show rendered on two machines is
//! one show.

/// Makes a row function with run-time dispatch, with its plain twin and (in tests) each level under a name.
macro_rules! row_kernel {
    ($(#[$meta:meta])* fn $name:ident($($arg:ident: $type:ty),* $(,)?) $body:block) => {
        $(#[$meta])*
        #[multiversion::multiversion(targets(
            "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
            "x86_64+avx2+fma",
            "aarch64+neon"
        ))]
        #[allow(clippy::too_many_arguments, reason = "a kernel takes its rows one by one, so that they cannot alias")]
        pub(crate) fn $name($($arg: $type),*) {
            $name::plain($($arg),*);
        }

        #[allow(clippy::too_many_arguments, reason = "a kernel takes its rows one by one, so that they cannot alias")]
        pub(crate) mod $name {
            #[allow(unused_imports, reason = "some kernels stand alone")]
            use super::*;

            /// The loop as written.
            #[inline(always)]
            pub(crate) fn plain($($arg: $type),*) $body

            /// The plain loop, the copy that this machine chooses, and the one below it: on a machine with the widest
            /// vectors those are two. More copies would cost minutes of compiling and show nothing new.
            #[cfg(test)]
            #[allow(clippy::type_complexity, reason = "a table of one kernel's copies")]
            pub(crate) fn levels() -> Vec<(&'static str, fn($($type),*))> {
                #[multiversion::multiversion(targets("x86_64+avx2+fma"))]
                fn avx2($($arg: $type),*) { plain($($arg),*); }
                vec![("plain", plain as fn($($type),*)), ("chosen", super::$name), ("avx2", avx2)]
            }
        }
    };
}

pub(crate) use row_kernel;

/// A number as its bits: what is compared when copies must not differ at all.
#[cfg(test)]
pub(crate) trait Bits {
    fn bits(&self) -> u64;
}

#[cfg(test)]
impl Bits for f32 {
    fn bits(&self) -> u64 {
        u64::from(self.to_bits())
    }
}

#[cfg(test)]
impl Bits for f64 {
    fn bits(&self) -> u64 {
        self.to_bits()
    }
}

/// Runs every copy of a kernel on rows of every length that could matter and holds them to the first, bit for bit.
#[cfg(test)]
pub(crate) fn hold_together<F: Copy, T: Bits>(
    levels: &[(&'static str, F)],
    mut run: impl FnMut(F, usize) -> Vec<T>,
) {
    // None, one, around vectors of 4, 8 and 16 and twice that, and a length with a remainder for each.
    for length in [
        0, 1, 3, 4, 5, 7, 8, 9, 15, 16, 17, 31, 32, 33, 63, 64, 65, 251,
    ] {
        let Some((plain, others)) = levels.split_first() else {
            panic!("no levels");
        };
        let mut bits =
            |level: F| -> Vec<u64> { run(level, length).iter().map(Bits::bits).collect() };
        let expected = bits(plain.1);
        for (name, level) in others {
            assert_eq!(bits(*level), expected, "{name} at length {length}");
        }
    }
}

/// A row without order, with values around 0 to 1.2, some negative; a prime multiplier, so that swapped rows show.
#[cfg(test)]
pub(crate) fn unordered_row(seed: usize, length: usize) -> Vec<f32> {
    (0..length)
        .map(|i| ((i * 7919 + seed * 104_729) % 1009) as f32 / 800.0 - 0.05)
        .collect()
}
