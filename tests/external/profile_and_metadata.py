"""The delivered file's profile through LittleCMS, its EXIF through exifread and Pillow, its XMP through the XML parser."""

import io
import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import exifread
import numpy
from PIL import Image, ImageCms

XMP_SIGNATURE = b"http://ns.adobe.com/xap/1.0/\0"
NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "exifEX": "http://cipa.jp/exif/1.0/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "tiff": "http://ns.adobe.com/tiff/1.0/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
}

# Fields that a raw file and its delivered picture share, as exifread names them. Kind: how the two are compared.
CARRIED = [
    ("Image Make", "text"),
    ("Image Model", "text"),
    ("EXIF DateTimeOriginal", "text"),
    ("EXIF SubSecTimeOriginal", "digits"),
    ("EXIF OffsetTimeOriginal", "text"),
    ("EXIF ExposureTime", "number"),
    ("EXIF FNumber", "number"),
    ("EXIF ISOSpeedRatings", "number"),
    ("EXIF FocalLength", "number"),
    ("EXIF BodySerialNumber", "text"),
    ("EXIF LensModel", "text"),
]

# Relative distance between two fractions that say the same setting. Nothing wider: 1/250 must stay 1/250.
SAME_NUMBER = 1e-6


def check_profile(report, picture):
    """LittleCMS opens the embedded profile, and from it to its own sRGB no level changes."""
    with Image.open(picture) as image:
        embedded_bytes = image.info.get("icc_profile")
    if not report.hold("profile is embedded", picture.name, bool(embedded_bytes)):
        return
    embedded = ImageCms.ImageCmsProfile(io.BytesIO(embedded_bytes))
    report.hold(
        "LittleCMS reads the profile",
        picture.name,
        embedded.profile.xcolor_space == "RGB ",
        ImageCms.getProfileDescription(embedded).strip(),
    )
    steps = numpy.linspace(0, 255, 33).round().astype(numpy.uint8)
    lattice = numpy.stack(numpy.meshgrid(steps, steps, steps), -1).reshape(33, -1, 3)
    own = ImageCms.createProfile("sRGB")
    for intent in (ImageCms.Intent.PERCEPTUAL, ImageCms.Intent.RELATIVE_COLORIMETRIC):
        transform = ImageCms.buildTransform(embedded, own, "RGB", "RGB", renderingIntent=intent)
        converted = numpy.asarray(ImageCms.applyTransform(Image.fromarray(lattice), transform))
        difference = int(numpy.abs(converted.astype(int) - lattice).max())
        report.limit(f"to LittleCMS's sRGB, {intent.name.lower()}", picture.name, difference, 0, "levels")


def read_exifread(path):
    with open(path, "rb") as file:
        return exifread.process_file(file, details=False)


def same(kind, original, delivered):
    if kind == "text":
        return str(original).strip("\0 ") == str(delivered).strip("\0 ")
    if kind == "digits":
        return str(original).strip("\0 ").rstrip("0") == str(delivered).strip("\0 ").rstrip("0")
    a, b = (Fraction(str(value).strip("[]").split(",")[0].strip()) for value in (original, delivered))
    return abs(float(a) / float(b) - 1) <= SAME_NUMBER


def check_exif(report, original, picture):
    """What exifread finds in the raw file, it finds in the picture; what Pillow finds there agrees."""
    try:
        source = read_exifread(original)
    except Exception:  # Of many kinds, one for each container that exifread does not know.
        source = {}
    found = read_exifread(picture)
    if not source:
        report.skip("EXIF carried over (exifread)", original.name, "exifread knows no EXIF in this container")
    else:
        compared, wrong = 0, []
        for name, kind in CARRIED:
            if name not in source or not str(source[name]).strip("\0 "):
                continue
            if kind == "digits" and not str(source[name]).strip("\0 0"):
                continue
            compared += 1
            if name not in found or not same(kind, source[name], found[name]):
                wrong.append(f"{name}: {source[name]} became {found.get(name)}")
        report.hold(
            "EXIF carried over (exifread)",
            picture.name,
            compared > 0 and not wrong,
            "; ".join(wrong) or f"{compared} fields",
        )
    with Image.open(picture) as image:
        size = image.size
        first = image.getexif()
        second = first.get_ifd(0x8769)
        position = first.get_ifd(0x8825)
    report.hold("Pillow: upright", picture.name, first.get(0x0112) == 1)
    report.hold("Pillow: size in EXIF is the picture's", picture.name, (second.get(0xA002), second.get(0xA003)) == size)
    report.hold("Pillow: sRGB is stated", picture.name, second.get(0xA001) == 1)
    report.hold("Pillow: no position unless asked", picture.name, not position)
    report.hold("exifread: no embedded preview", picture.name, not any("Thumbnail" in name for name in found))
    if 0x829A in second:
        ours, theirs = float(second[0x829A]), float(Fraction(str(found["EXIF ExposureTime"])))
        report.hold("Pillow and exifread agree on the exposure", picture.name, abs(ours / theirs - 1) < SAME_NUMBER)


def segments(data):
    """Marker and content of each segment up to the scan."""
    at = 2
    while data[at + 1] != 0xDA:
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        yield data[at + 1], data[at + 4 : at + 2 + length]
        at += 2 + length


def check_xmp(report, original, picture):
    """The packet is one well-formed XML document and names its original."""
    packets = [
        content[len(XMP_SIGNATURE) :]
        for marker, content in segments(picture.read_bytes())
        if marker == 0xE1 and content.startswith(XMP_SIGNATURE)
    ]
    if not report.hold("one XMP packet", picture.name, len(packets) == 1):
        return
    try:
        root = ElementTree.fromstring(packets[0].decode("utf-8"))
    except (ElementTree.ParseError, UnicodeDecodeError) as error:
        report.hold("XMP is well-formed XML", picture.name, False, str(error))
        return
    description = root.find(".//rdf:Description", NAMESPACES)

    def text(name):
        element = description.find(name, NAMESPACES)
        return None if element is None else element.text

    report.hold("XMP is well-formed XML", picture.name, True)
    report.hold("XMP: dc:format", picture.name, text("dc:format") == "image/jpeg")
    report.hold("XMP: dc:source is the original", picture.name, text("dc:source") == original.name, str(text("dc:source")))
    report.hold("XMP: made by", picture.name, (text("xmp:CreatorTool") or "").startswith("houselights "))
