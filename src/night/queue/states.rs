//! In what state shows, jobs and outputs are, and the words by which the database knows that.

use serde::Serialize;

/// Makes a state's type: its words, and the way back from them.
macro_rules! states {
    ($(#[$doc:meta])* $name:ident { $($(#[$each:meta])* $state:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum $name { $($(#[$each])* $state,)+ }

        impl $name {
            /// Every state, in the order in which they are gone through.
            pub const ALL: &[Self] = &[$(Self::$state,)+];

            /// The word of the state.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$state => $word,)+ }
            }

            /// The state of a word.
            #[must_use]
            pub fn of(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|state| state.word() == word)
            }
        }
    };
}

states!(
    /// Where a show is.
    ShowState {
        /// Frames wait to be metered, or are being metered.
        ToMeter = "to-meter",
        /// All frames are metered; somebody must solve it.
        ToSolve = "to-solve",
        /// A run is solving it.
        Solving = "solving",
        /// Each frame has its correction.
        Solved = "solved",
        /// It could not be solved: the reason says what a person can do.
        Failed = "failed",
        /// A person took it out.
        Dropped = "dropped",
    }
);

states!(
    /// Where a job is.
    JobState {
        /// Its frame waits to be metered.
        ToMeter = "to-meter",
        /// A run is metering it.
        Metering = "metering",
        /// It is metered, and its show not solved yet.
        Metered = "metered",
        /// It has its correction and waits for its pictures.
        ToMake = "to-make",
        /// A run is making its pictures.
        Making = "making",
        /// All its pictures are in their places.
        Made = "made",
        /// It cannot be done: the reason says why, and what a person can do.
        SetAside = "set-aside",
        /// A person took it out.
        Dropped = "dropped",
    }
);

states!(
    /// Where an output is.
    OutputState {
        /// It is not made, or was made with another recipe, or the picture was removed or changed since.
        ToMake = "to-make",
        /// The picture is in its place.
        Made = "made",
        /// It could not be written, for a reason of its own.
        Failed = "failed",
    }
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_leads_back_to_its_state() {
        for &state in JobState::ALL {
            assert_eq!(JobState::of(state.word()), Some(state));
        }
        for &state in ShowState::ALL {
            assert_eq!(ShowState::of(state.word()), Some(state));
        }
        for &state in OutputState::ALL {
            assert_eq!(OutputState::of(state.word()), Some(state));
        }
        assert_eq!(JobState::of("to meter"), None);
    }
}
