//! The kinds of file that pictures are delivered as.

use serde::{Deserialize, Serialize};

/// The kind of file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// Baseline JPEG (ITU-T T.81), 8 bits a channel.
    #[default]
    Jpeg,
    /// TIFF 6.0, 16 bits a channel, nothing lost.
    Tiff,
}

impl Format {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Jpeg, Self::Tiff];

    /// The word for it in commands and look files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Jpeg => "jpeg",
            Self::Tiff => "tiff",
        }
    }

    /// The ending of its files' names.
    #[must_use]
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Jpeg => "jpg",
            Self::Tiff => "tif",
        }
    }

    /// Its name on the internet (RFC 2046, RFC 3302).
    #[must_use]
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Tiff => "image/tiff",
        }
    }

    /// The format of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.word() == word)
    }
}
