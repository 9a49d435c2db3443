//! An output wish as it is typed: `DIR[,WORD=VALUE]...`, such as `web,long=2048,quality=85`.

use crate::base::format::Format;
use crate::cli::picture_words::{FormatWord, IntentWord, SpaceWord, Switch};
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::{Intent, Printing};
use crate::crew::task::Delivery;
use crate::deliver::Wish;
use crate::look::file::Look;
use clap::ValueEnum;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

/// What is to be made of every frame, as typed; what is not said is the look's.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct WishWords {
    folder: PathBuf,
    /// `Some(None)`: full size.
    long: Option<Option<u32>>,
    format: Option<FormatWord>,
    space: Option<SpaceWord>,
    quality: Option<u8>,
    profile: Option<PathBuf>,
    intent: Option<IntentWord>,
    black_point_compensation: Option<Switch>,
    keeps_position: bool,
}

/// The words that a wish can have.
const WORDS: &str = "long, as, space, quality, profile, intent, black-point (each with = and a value), keep-position";

/// Longest edges that can be asked for, in pixels.
const LONG: RangeInclusive<u32> = 16..=65_535;
/// Qualities that can be asked for.
const QUALITY: RangeInclusive<u8> = 1..=100;

/// Reads a wish, from its end: what is no word of ours belongs to the folder's name.
pub(super) fn parse(text: &str) -> Result<WishWords, String> {
    let mut wish = WishWords::default();
    let mut rest = text;
    while let Some((before, last)) = rest.rsplit_once(',') {
        if !wish.take(last.trim())? {
            break;
        }
        rest = before;
    }
    // A folder may have such a name, and then it is there.
    let unknown = (rest.split(',').skip(1)).find_map(|part| part.split_once('='));
    if let Some((name, _)) = unknown.filter(|_| !Path::new(rest).is_dir()) {
        return Err(format!(
            "\"{}\" is none of {WORDS}; a folder whose name has such a part must be there before",
            name.trim()
        ));
    }
    if rest.is_empty() {
        return Err("no folder is named; give DIR, or DIR,long=2048 and the like".to_owned());
    }
    if wish.profile.is_some() && wish.space.is_some() {
        return Err("a profile brings its own space: give profile= or space=".to_owned());
    }
    if wish.profile.is_none() && (wish.intent.is_some() || wish.black_point_compensation.is_some())
    {
        return Err("intent= and black-point= say how pictures are converted into a profile; give profile=FILE".to_owned());
    }
    wish.folder = PathBuf::from(rest);
    Ok(wish)
}

fn word<T: ValueEnum>(value: &str) -> Result<T, String> {
    T::from_str(value, true).map_err(|_| {
        let words: Vec<String> = T::value_variants()
            .iter()
            .filter_map(|variant| variant.to_possible_value())
            .map(|value| value.get_name().to_owned())
            .collect();
        format!("\"{value}\" is none of {}", words.join(", "))
    })
}

fn number<T: std::str::FromStr + PartialOrd + std::fmt::Display>(
    value: &str,
    range: &RangeInclusive<T>,
) -> Result<T, String> {
    let number = value.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| {
        format!(
            "\"{value}\" is no whole number from {} to {}",
            range.start(),
            range.end()
        )
    })
}

impl WishWords {
    /// Takes one word; `false` when it is none of ours.
    fn take(&mut self, text: &str) -> Result<bool, String> {
        let Some((name, value)) = text.split_once('=') else {
            let is_position = text == "keep-position";
            self.keeps_position |= is_position;
            return Ok(is_position);
        };
        match name {
            "long" if value == "full" => self.long = Some(None),
            "long" => self.long = Some(Some(number(value, &LONG)?)),
            "as" => self.format = Some(word(value)?),
            "space" => self.space = Some(word(value)?),
            "quality" => self.quality = Some(number(value, &QUALITY)?),
            "profile" => self.profile = Some(PathBuf::from(value)),
            "intent" => self.intent = Some(word(value)?),
            "black-point" => self.black_point_compensation = Some(word(value)?),
            _ => return Ok(false),
        }
        Ok(true)
    }

    /// The folder.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// The profile to convert into, and how: typed, or the look's, whose path starts at `look_folder`.
    pub(super) fn profile(&self, look: &Look, look_folder: &Path) -> Option<(PathBuf, Printing)> {
        let kept = look.output.printing;
        let of_look = (self.space.is_none() && !look.output.profile.is_empty())
            .then(|| look_folder.join(&look.output.profile));
        let profile = self.profile.clone().or(of_look)?;
        let printing = Printing {
            intent: self.intent.map_or(kept.intent, Intent::from),
            black_point_compensation: self
                .black_point_compensation
                .map_or(kept.black_point_compensation, |switch| switch == Switch::On),
        };
        Some((profile, printing))
    }

    /// How pictures are delivered, as far as that does not depend on the frame.
    pub(super) fn delivery(&self, look: &Look) -> Delivery {
        let output = &look.output;
        Delivery {
            long_edge: self.long.unwrap_or(output.long_edge),
            space: self.space.map_or(output.space, OutputSpace::from),
            wish: Wish {
                format: self.format.map_or(output.format, Format::from),
                quality: self.quality.unwrap_or(output.quality),
                include_position: self.keeps_position,
                ..Wish::default()
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_from_the_end_and_the_folder_keeps_the_rest() {
        let wish = parse("out, of order,long=2048,quality=85").expect("a wish");
        assert_eq!(wish.folder, PathBuf::from("out, of order"));
        assert_eq!((wish.long, wish.quality), (Some(Some(2048)), Some(85)));
        let wish = parse("full,long=full,as=tiff,space=rec2020,keep-position").expect("a wish");
        assert_eq!(
            (wish.long, wish.format, wish.space),
            (Some(None), Some(FormatWord::Tiff), Some(SpaceWord::Rec2020))
        );
        assert!(wish.keeps_position);
        assert_eq!(parse("a=b").expect("a folder").folder, PathBuf::from("a=b"));
    }

    #[test]
    fn what_cannot_be_is_refused_with_what_can() {
        for (text, words) in [
            ("web,foo=1", "\"foo\" is none of long, as"),
            ("web,foo=1,quality=85", "\"foo\" is none of long, as"),
            ("web,long=8", "from 16 to 65535"),
            ("web,quality=101", "from 1 to 100"),
            ("web,as=png", "jpeg, tiff"),
            (",long=2048", "no folder"),
            ("web,intent=absolute", "profile=FILE"),
            ("web,profile=a.icc,space=srgb", "its own space"),
        ] {
            let refused = parse(text).expect_err(text);
            assert!(refused.contains(words), "{text}: {refused}");
        }
    }
}
