//! What kind of file this is, by its first bytes: the suffix is only a name.

/// The containers that raw files come in, and the two that are mistaken for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Container {
    /// TIFF 6.0 and its relatives with another magic number (ORF, RW2).
    Tiff,
    /// BigTIFF: 64-bit offsets. No body writes it.
    BigTiff,
    /// Canon's CIFF (CRW).
    Ciff,
    /// ISO base media file (ISO/IEC 14496-12) of the brand `crx ` (CR3).
    Cr3,
    /// Fujifilm's RAF.
    Raf,
    /// Minolta's MRW.
    Mrw,
    /// Sigma's X3F.
    X3f,
    /// A JPEG picture.
    Jpeg,
    /// Some other picture or film; what it is.
    Other(&'static str),
    /// Nothing known.
    Unknown,
}

/// The container of a file that begins with `head`.
pub(crate) fn container(head: &[u8]) -> Container {
    let at = |offset: usize, bytes: &[u8]| {
        head.get(offset..)
            .is_some_and(|rest| rest.starts_with(bytes))
    };
    if at(0, b"II\x2b\0") || at(0, b"MM\0\x2b") {
        Container::BigTiff
    } else if at(6, b"HEAPCCDR") {
        Container::Ciff
    } else if [
        &b"II\x2a\0"[..],
        b"MM\0\x2a",
        b"IIRO",
        b"IIRS",
        b"IIU\0",
        b"MMOR",
    ]
    .iter()
    .any(|magic| at(0, magic))
    {
        Container::Tiff
    } else if at(0, b"FUJIFILMCCD-RAW") {
        Container::Raf
    } else if at(0, b"\0MRM") {
        Container::Mrw
    } else if at(0, b"FOVb") {
        Container::X3f
    } else if at(4, b"ftypcrx ") {
        Container::Cr3
    } else if at(0, b"\xff\xd8\xff") {
        Container::Jpeg
    } else if at(4, b"ftyp") {
        Container::Other("a film or a HEIF picture")
    } else if at(0, b"\x89PNG\r\n\x1a\n") {
        Container::Other("a PNG picture")
    } else if at(0, b"PK\x03\x04") {
        Container::Other("a ZIP archive")
    } else if at(0, b"<?xml") || at(0, b"<x:xmpmeta") {
        Container::Other("an XML text, perhaps a sidecar")
    } else {
        Container::Unknown
    }
}
