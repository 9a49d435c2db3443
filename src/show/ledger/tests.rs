use super::*;

fn stamp(hash: &str) -> Stamp {
    Stamp {
        bytes: 7,
        modified: 1_700_000_000_123_456_789,
        head: hash.to_owned(),
        hash: hash.to_owned(),
    }
}

fn made(recipe: &str) -> MadePicture {
    MadePicture {
        input: stamp("in"),
        output: stamp("out"),
        recipe: recipe.to_owned(),
        outside: Some(0.25),
    }
}

fn note(ledger: &mut Ledger, picture: &str, recipe: &str) {
    let frame = PathBuf::from("/show").join(picture).with_extension("nef");
    ledger
        .note_promised(picture.as_ref(), &frame)
        .expect("noted");
    ledger
        .note_made(picture.as_ref(), &frame, made(recipe))
        .expect("noted");
}

#[test]
fn what_was_noted_is_known_to_the_next_run() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    note(&mut ledger, "a.jpg", "first");
    note(&mut ledger, "a.jpg", "second");
    ledger
        .note_promised("b.jpg".as_ref(), Path::new("/show/b.nef"))
        .expect("noted");
    let ledger = Ledger::open(scratch.path()).expect("opened");
    assert_eq!(ledger.made("a.jpg".as_ref()), Some(&made("second")));
    assert_eq!(ledger.made("b.jpg".as_ref()), None);
    assert!(ledger.is_ours("b.jpg".as_ref()));
    assert_eq!(
        ledger.picture_name(Path::new("/show/a.nef"), None, "jpg"),
        Some(OsString::from("a.jpg"))
    );
    assert_eq!(ledger.damaged_lines, 0);
}

#[test]
fn a_moved_frame_is_known_by_its_first_bytes_too() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    for (folder, content) in [
        ("old", b"body one"),
        ("new", b"body one"),
        ("other", b"body two"),
    ] {
        fs::create_dir(scratch.path().join(folder)).expect("made");
        fs::write(scratch.path().join(folder).join("7.nef"), content).expect("written");
    }
    let frame = |folder: &str| scratch.path().join(folder).join("7.nef");
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    let input = crate::crew::stamp::stamp_of(&frame("old")).expect("read");
    let outline = Outline {
        bytes: input.bytes,
        modified: input.modified,
    };
    let made = MadePicture {
        input,
        ..made("recipe")
    };
    ledger
        .note_made("7.jpg".as_ref(), &frame("old"), made)
        .expect("noted");
    let name = |folder: &str, outline| ledger.picture_name(&frame(folder), Some(outline), "jpg");
    assert_eq!(name("old", outline), Some("7.jpg".into()));
    assert_eq!(name("new", outline), Some("7.jpg".into()));
    // The same name, size and time, but another body's frame.
    assert_eq!(name("other", outline), None);
    let later = Outline {
        modified: outline.modified + 1,
        ..outline
    };
    assert_eq!(name("new", later), None);
}

#[test]
fn another_frame_at_the_same_path_has_no_picture_yet() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let frame = scratch.path().join("7.nef");
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    let mut note_as = |content: &[u8], picture: &str| {
        fs::write(&frame, content).expect("written");
        let made = MadePicture {
            input: crate::crew::stamp::stamp_of(&frame).expect("read"),
            ..made("recipe")
        };
        ledger
            .note_made(picture.as_ref(), &frame, made)
            .expect("noted");
    };
    note_as(b"friday's frame", "7.jpg");
    fs::write(&frame, b"saturday's").expect("written");
    let name = |ledger: &Ledger, ending| {
        let outline = Outline::of(&frame).expect("there");
        ledger.picture_name(&frame, Some(outline), ending)
    };
    let opened = Ledger::open_shared(scratch.path()).expect("opened");
    assert_eq!(name(&opened, "jpg"), None);
    assert_eq!(name(&opened, "tif"), None);
    note_as(b"saturday's", "7_card.jpg");
    let opened = Ledger::open_shared(scratch.path()).expect("opened");
    assert_eq!(name(&opened, "jpg"), Some("7_card.jpg".into()));
    assert_eq!(name(&opened, "tif"), Some("7_card.tif".into()));
    // Friday's card again: written anew it has another time, but the same first bytes.
    fs::write(&frame, b"friday's frame").expect("written");
    assert_eq!(name(&opened, "jpg"), Some("7.jpg".into()));
    assert!(opened.is_ours("7.jpg".as_ref()) && opened.is_ours("7_card.jpg".as_ref()));
}

#[test]
fn a_cut_at_any_byte_loses_the_cut_line_only() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    note(&mut ledger, "a.jpg", "kept");
    let path = scratch.path().join(LEDGER_NAME);
    let first = fs::metadata(&path).expect("there").len();
    note(&mut ledger, "b.jpg", "cut");
    let whole = fs::read(&path).expect("read");
    for length in usize::try_from(first).expect("small")..whole.len() {
        fs::write(&path, &whole[..length]).expect("cut");
        let mut ledger = Ledger::open(scratch.path()).expect("opened");
        assert_eq!(ledger.made("a.jpg".as_ref()), Some(&made("kept")));
        assert_eq!(ledger.damaged_lines, 0, "cut at {length}");
        note(&mut ledger, "c.jpg", "after");
        let ledger = Ledger::open(scratch.path()).expect("opened");
        assert_eq!(ledger.made("c.jpg".as_ref()), Some(&made("after")));
        assert_eq!(
            ledger.damaged_lines, 0,
            "opened again after a cut at {length}"
        );
    }
}

#[test]
fn damage_in_the_middle_is_counted_and_costs_that_line() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let path = scratch.path().join(LEDGER_NAME);
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    note(&mut ledger, "a.jpg", "kept");
    let mut content = fs::read(&path).expect("read");
    content.extend(b"\xff\x00 not a line\n");
    fs::write(&path, &content).expect("damaged");
    let mut ledger = Ledger::open(scratch.path()).expect("opened");
    assert_eq!(ledger.damaged_lines, 1);
    note(&mut ledger, "b.jpg", "after");
    let ledger = Ledger::open(scratch.path()).expect("opened");
    assert_eq!(ledger.damaged_lines, 0, "written anew without the damage");
    assert!(ledger.made("a.jpg".as_ref()).is_some());
    assert!(ledger.made("b.jpg".as_ref()).is_some());
}

#[test]
fn outdated_lines_are_cleared_away() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    let line = written(&Line::Promised {
        picture: "a.jpg".into(),
        frame: "/show/a.nef".into(),
    })
    .expect("written");
    for _ in 0..OUTDATED_LINES + 10 {
        ledger.file.write_all(&line).expect("noted");
    }
    let size = || {
        fs::metadata(scratch.path().join(LEDGER_NAME))
            .expect("there")
            .len()
    };
    let before = size();
    let ledger = Ledger::open(scratch.path()).expect("opened");
    assert!(size() < before / 100);
    assert!(ledger.is_ours("a.jpg".as_ref()));
}

#[test]
fn a_later_version_is_refused_untouched() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let path = scratch.path().join(LEDGER_NAME);
    fs::write(&path, b"{\"version\":2}\n{\"unheard-of\":1}").expect("written");
    let error = Ledger::open(scratch.path()).expect_err("later");
    assert!(matches!(error, LedgerError::LaterVersion { .. }), "{error}");
    let content = fs::read(&path).expect("read");
    assert_eq!(content, b"{\"version\":2}\n{\"unheard-of\":1}");
}

#[test]
fn lines_about_readings_of_earlier_versions_are_passed_over() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let path = scratch.path().join(LEDGER_NAME);
    let mut ledger = Ledger::open(scratch.path()).expect("begun");
    note(&mut ledger, "a.jpg", "kept");
    let mut content = fs::read(&path).expect("read");
    content.extend(
        b"{\"metered\":{\"frame\":\"/show/a.nef\",\"under\":\"x\",\"metered\":{\"notes\":[]}}}\n",
    );
    fs::write(&path, &content).expect("written");
    let ledger = Ledger::open(scratch.path()).expect("opened");
    assert_eq!(ledger.damaged_lines, 0);
    assert_eq!(ledger.made("a.jpg".as_ref()), Some(&made("kept")));
}
