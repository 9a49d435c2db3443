//! Making the pictures of a frame: decoded once, and each picture rendered, encoded, written and put in its place.

use super::{about, decode, read_profile, stamp, unwritable};
use crate::base::files::{FileError, Unfinished};
use crate::colour::printer::Conversion;
use crate::crew::stamp::stamp_of;
use crate::crew::task::{Answer, Cause, Made, Order, PictureOrder, Place, TaskError};
use crate::deliver::{DeliverError, picture};
use crate::raw::Reader;
use crate::raw::frame::Frame;
use crate::render::Target;
use crate::render::plan::Plan;
use std::fmt::Display;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Instant;

/// Bytes that are gathered before they go to the drive.
const BUFFER: usize = 1 << 20;

/// Makes the pictures of an order. One that cannot be made costs none of the others.
pub(super) fn make(order: &Order, reader: &mut Reader) -> Result<Answer, TaskError> {
    let path = order.frame.as_path();
    let mut pictures: Vec<Option<Result<Made, TaskError>>> = vec![None; order.pictures.len()];
    if order
        .pictures
        .iter()
        .any(|picture| picture.made_from.is_some())
    {
        let input = stamp(path)?;
        for (at, picture) in order.pictures.iter().enumerate() {
            if picture.made_from.as_ref() == Some(&input.hash) {
                pictures[at] = Some(Ok(Made::AsBefore));
            }
        }
        if pictures.iter().all(Option::is_some) {
            return Ok(Answer::Made {
                input,
                seconds: 0.0,
                pictures: pictures.into_iter().flatten().collect(),
            });
        }
    }
    let begun = Instant::now();
    let (frame, input) = decode(path, reader)?;
    if order
        .only_from
        .as_ref()
        .is_some_and(|hash| *hash != input.hash)
    {
        reader.take_back(frame.mosaic);
        return Ok(Answer::AnotherRaw { input });
    }
    let seconds = begun.elapsed().as_secs_f64();
    for (picture, made) in order.pictures.iter().zip(&mut pictures) {
        if made.is_none() {
            *made = Some(one(&frame, order, picture));
        }
    }
    reader.take_back(frame.mosaic);
    Ok(Answer::Made {
        input,
        seconds,
        pictures: pictures.into_iter().flatten().collect(),
    })
}

/// Makes one picture of a frame.
fn one(frame: &Frame, of: &Order, order: &PictureOrder) -> Result<Made, TaskError> {
    let path = of.frame.as_path();
    let unrenderable = |error: &dyn Display| about(path, Cause::Unrenderable, error);
    let target = Target {
        long_edge: order.delivery.long_edge,
        space: order.delivery.space,
    };
    let plan =
        Plan::compile(frame, &of.correction, &target).map_err(|error| unrenderable(&error))?;
    let begun = Instant::now();
    let conversion = conversion(order)?;
    let mut unfinished = Unfinished::beside(&order.output).map_err(unwritable)?;
    let mut file = BufWriter::with_capacity(BUFFER, unfinished.file());
    let wish = &order.delivery.wish;
    let Frame { mosaic, facts, .. } = frame;
    let outside = picture::write(&plan, mosaic, facts, wish, conversion.as_ref(), &mut file)
        .and_then(|outside| {
            file.flush()
                .map(|()| outside)
                .map_err(DeliverError::Written)
        })
        .map_err(|error| match error {
            DeliverError::Written(source) => {
                unwritable(FileError::at("write", &order.output)(source))
            }
            other => unrenderable(&other),
        })?;
    drop(file);
    deliver(path, order, unfinished)?;
    let output = stamp_of(&order.output)
        .map_err(|error| unwritable(FileError::at("look at", &order.output)(error)))?;
    Ok(Made::InPlace {
        output,
        outside,
        seconds: begun.elapsed().as_secs_f64(),
    })
}

/// The conversion that an order asks for.
fn conversion(order: &PictureOrder) -> Result<Option<Conversion>, TaskError> {
    let Some((path, converted)) = order
        .profile
        .as_ref()
        .zip(order.delivery.wish.converted.as_ref())
    else {
        return Ok(None);
    };
    let (conversion, digest) = read_profile(path, converted.printing)?;
    if digest != converted.profile_digest {
        return Err(TaskError {
            cause: Cause::Profile,
            reason: format!(
                "the profile {} changed while pictures were made",
                path.display()
            ),
            next_step: Some("run the same command again".to_owned()),
        });
    }
    Ok(Some(conversion))
}

/// Puts the file in its place. A file that no record claims stays, unless it has these very bytes: then a run wrote it that
/// died before it could note it.
fn deliver(frame: &Path, order: &PictureOrder, unfinished: Unfinished) -> Result<(), TaskError> {
    // No file ever takes the place of a folder, whoever made that.
    if (order.output.symlink_metadata()).is_ok_and(|about| about.is_dir()) {
        return Err(TaskError {
            cause: Cause::PlaceTaken,
            reason: format!(
                "{}: a folder of that name is in the way of its picture {}",
                frame.display(),
                order.output.display()
            ),
            next_step: Some("move it away, then retry".to_owned()),
        });
    }
    if order.place == Place::Taken && order.output.symlink_metadata().is_ok() {
        let ours = stamp_of(unfinished.path());
        let there = stamp_of(&order.output);
        if ours.is_ok_and(|ours| there.is_ok_and(|there| there.hash == ours.hash)) {
            return Ok(());
        }
        return Err(TaskError {
            cause: Cause::PlaceTaken,
            reason: format!(
                "{}: its place {} is taken by a file that this program did not make, or whose record is lost",
                frame.display(),
                order.output.display()
            ),
            next_step: Some("move that file away, or choose another folder with --to".to_owned()),
        });
    }
    unfinished.finish().map_err(unwritable)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::format::Format;
    use crate::base::units::Chromaticity;
    use crate::crew::task::Delivery;
    use crate::deliver::Wish;
    use crate::look::correction::Correction;
    use std::fs;

    fn frame() -> std::path::PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames/one-0401.dng")
    }

    fn picture(output: &Path, format: Format, long_edge: Option<u32>) -> PictureOrder {
        PictureOrder {
            delivery: Delivery {
                long_edge,
                space: Default::default(),
                wish: Wish {
                    format,
                    ..Wish::default()
                },
            },
            profile: None,
            output: output.to_path_buf(),
            place: Place::Free,
            made_from: None,
        }
    }

    fn order(pictures: Vec<PictureOrder>) -> Order {
        Order {
            frame: frame(),
            only_from: None,
            correction: Correction::neutral(Chromaticity::D65),
            pictures,
        }
    }

    fn made(order: &Order) -> Vec<Result<Made, TaskError>> {
        match make(order, &mut Reader::default()) {
            Ok(Answer::Made { pictures, .. }) => pictures,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn pictures_of_one_decoding_are_those_of_an_order_each() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let wishes = [
            ("full.jpg", Format::Jpeg, None),
            ("small.jpg", Format::Jpeg, Some(160)),
            ("full.tif", Format::Tiff, None),
            ("half.jpg", Format::Jpeg, Some(400)),
        ];
        let together = wishes.map(|(name, format, long_edge)| {
            picture(&scratch.path().join(name), format, long_edge)
        });
        let outcomes = made(&order(together.to_vec()));
        assert!(outcomes.iter().all(Result::is_ok), "{outcomes:?}");
        for (name, format, long_edge) in wishes {
            let alone = scratch.path().join(format!("alone-{name}"));
            made(&order(vec![picture(&alone, format, long_edge)]));
            let [one, other] =
                [scratch.path().join(name), alone].map(|path| fs::read(path).expect("made"));
            assert!(one == other, "{name}");
        }
    }

    #[test]
    fn one_that_cannot_be_made_costs_none_of_the_others() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let good = scratch.path().join("good.jpg");
        let pictures = vec![
            picture(&scratch.path().join("absent/full.jpg"), Format::Jpeg, None),
            picture(&good, Format::Jpeg, Some(100)),
        ];
        let outcomes = made(&order(pictures));
        let cause = outcomes[0].as_ref().expect_err("no folder").cause;
        assert_eq!(cause, Cause::FolderUnusable);
        assert!(outcomes[1].is_ok() && good.exists());
    }

    #[test]
    fn what_stands_from_this_very_raw_is_left_and_the_rest_is_made() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let hash = stamp_of(&frame()).expect("read").hash;
        let [known, new] = ["known.jpg", "new.jpg"].map(|name| scratch.path().join(name));
        let mut pictures = vec![
            picture(&known, Format::Jpeg, Some(100)),
            picture(&new, Format::Jpeg, Some(100)),
        ];
        pictures[0].made_from = Some(hash.clone());
        let outcomes = made(&order(pictures.clone()));
        assert_eq!(outcomes[0], Ok(Made::AsBefore));
        assert!(!known.exists() && new.exists());
        pictures[1].made_from = Some(hash);
        assert_eq!(
            made(&order(pictures)),
            [Ok(Made::AsBefore), Ok(Made::AsBefore)]
        );
    }

    #[test]
    fn a_folder_in_the_place_of_a_picture_is_told_and_left() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let output = scratch.path().join("a.jpg");
        fs::create_dir(&output).expect("made");
        for place in [Place::Free, Place::Taken] {
            let mut order = order(vec![picture(&output, Format::Jpeg, Some(100))]);
            order.pictures[0].place = place;
            let refused = made(&order).remove(0).expect_err("in the way");
            assert_eq!(refused.cause, Cause::PlaceTaken);
            let words = refused.to_string();
            assert!(
                words.contains("one-0401.dng: a folder of that name"),
                "{words}"
            );
        }
        assert!(output.is_dir());
    }

    #[test]
    fn another_raw_gets_nothing_that_was_solved_from_this_one() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let output = scratch.path().join("a.jpg");
        let mut order = order(vec![picture(&output, Format::Jpeg, Some(100))]);
        order.only_from = Some("the hash of another raw".to_owned());
        let answer = make(&order, &mut Reader::default()).expect("decoded");
        assert!(matches!(answer, Answer::AnotherRaw { .. }), "{answer:?}");
        assert!(!output.exists());
    }
}
