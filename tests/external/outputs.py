"""Spaces, TIFF files and a printer's profile: the program's files through tifffile, Pillow, exifread, LittleCMS and colour-science.

The same frame is delivered as 16-bit TIFF in every space; what other libraries read there must be one picture.
"""

import io
import subprocess
import warnings

import exifread
import numpy
import tifffile
from PIL import Image, ImageCms

warnings.filterwarnings("ignore", message=".*API features are not available.*")
import colour  # noqa: E402

# Names as the standards' tables in colour-science have them.
SPACES = {"srgb": "sRGB", "display-p3": "Display P3", "rec2020": "ITU-R BT.2020"}
ICC_D50 = numpy.array([0.9642, 1.0, 0.8249])
# Tags of TIFF (ICC.1:2010, B.3; ISO 16684-3; CIPA DC-008).
ICC_PROFILE, XMP, EXIF, POSITION = 34675, 700, 34665, 34853
# Pixels compared: inside sRGB and neither dark nor near white, where the map and the curve of each space agree on one colour.
INSIDE = (0.02, 0.8)

# Mean and 99.9 % of the distance between conversions. Measured: 0.41 and 2.3, 0.62 and 7.0.
LIMITS = {"on": (0.6, 4.0), "off": (0.8, 9.0)}
WHY = "8 bits go in there, 16 here; without compensation the signal is steep just above the paper's black"


def carry(programs, frame, folder, *options):
    command = [programs / "houselights", "carry", frame, "--to", folder, "--reference", frame, "--look", "faithful", "--follow", "none"]
    run = subprocess.run([*command, *options], capture_output=True, timeout=300, text=True)
    files = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    if run.returncode != 0 or len(files) != 1:
        raise RuntimeError(f"carry ended with {run.returncode}: {run.stderr.strip()}")
    return files[0]


def check_colorants(report, space, name, profile_bytes):
    """LittleCMS reads the profile's colorants; colour-science works them out from the standard's chromaticities."""
    profile = ImageCms.ImageCmsProfile(io.BytesIO(profile_bytes)).profile
    standard = colour.RGB_COLOURSPACES[name]
    white = colour.xy_to_XYZ(standard.whitepoint)
    adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, ICC_D50, transform="Bradford") @ standard.matrix_RGB_to_XYZ
    found = numpy.array([profile.red_colorant[0], profile.green_colorant[0], profile.blue_colorant[0]]).T
    report.limit("colorants of the profile (LittleCMS)", space, float(numpy.abs(found - adapted).max()), 1e-4, "XYZ")


def check_curve(report, space, name, profile_bytes):
    """LittleCMS takes neutral codes through the profile to its own sRGB; colour-science decodes them by the standard."""
    codes = numpy.arange(0, 256, dtype=numpy.uint8)
    ramp = Image.fromarray(numpy.repeat(codes[None, :, None], 3, axis=2))
    own = ImageCms.createProfile("sRGB")
    embedded = ImageCms.ImageCmsProfile(io.BytesIO(profile_bytes))
    transform = ImageCms.buildTransform(embedded, own, "RGB", "RGB", renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC)
    found = numpy.asarray(ImageCms.applyTransform(ramp, transform))[0].astype(float)
    if name == "ITU-R BT.2020":
        linear = colour.models.oetf_inverse_BT2020(codes / 255.0, is_12_bits_system=True)
    else:
        linear = colour.models.eotf_sRGB(codes / 255.0)
    wanted = numpy.clip(colour.models.eotf_inverse_sRGB(linear), 0, 1) * 255
    report.limit("curve of the profile (LittleCMS)", space, float(numpy.abs(found - wanted[:, None]).max()), 1.01, "levels")


def linear_of(name, codes):
    signal = codes.astype(numpy.float64) / 65535.0
    if name == "ITU-R BT.2020":
        return colour.models.oetf_inverse_BT2020(signal, is_12_bits_system=True)
    return colour.models.eotf_sRGB(signal)


def check_tiff(report, path, space, frame):
    """tifffile, Pillow and exifread open it and find what belongs there. Returns the codes."""
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        codes = page.asarray()
        tags = {tag.code: tag.value for tag in page.tags}
    report.hold("tifffile: 16 bits, RGB", space, codes.dtype == numpy.uint16 and codes.ndim == 3 and codes.shape[2] == 3)
    report.hold("tifffile: upright", space, int(tags[274]) == 1)
    report.hold("tifffile: XMP names the original", space, frame.name in bytes(tags[XMP]).decode() and b"image/tiff" in bytes(tags[XMP]))
    report.hold("tifffile: no position unless asked", space, POSITION not in tags)
    with Image.open(path) as image:
        report.hold("Pillow: opens", space, image.size == (codes.shape[1], codes.shape[0]))
        embedded = image.info.get("icc_profile")
    report.hold("Pillow: the profile is embedded", space, embedded == bytes(tags[ICC_PROFILE]))
    with open(path, "rb") as file:
        found = exifread.process_file(file, details=False)
    with open(frame, "rb") as file:
        source = exifread.process_file(file, details=False)
    shared = ["Image Make", "Image Model", "EXIF ExposureTime", "EXIF FNumber", "EXIF ISOSpeedRatings", "EXIF DateTimeOriginal"]
    wrong = [name for name in shared if name in source and str(found.get(name)) != str(source[name])]
    report.hold("exifread: facts carried over", space, not wrong, ", ".join(wrong))
    return codes, embedded


def check_spaces(report, programs, frame, scratch):
    """One frame in every space: one picture."""
    pictures = {}
    for space, name in SPACES.items():
        path = carry(programs, frame, scratch / space, "--as", "tiff", "--space", space)
        codes, embedded = check_tiff(report, path, space, frame)
        check_colorants(report, space, name, embedded)
        check_curve(report, space, name, embedded)
        pictures[space] = linear_of(name, codes)
    reference = pictures["srgb"]
    least, greatest = reference.min(axis=2), reference.max(axis=2)
    fair = (least > INSIDE[0]) & (greatest < INSIDE[1])
    report.hold("enough pixels inside sRGB", frame.name, int(fair.sum()) > 2000, f"{fair.mean():.1%}")
    for space in ("display-p3", "rec2020"):
        source, to = colour.RGB_COLOURSPACES[SPACES[space]], colour.RGB_COLOURSPACES["sRGB"]
        converted = pictures[space][fair] @ (to.matrix_XYZ_to_RGB @ source.matrix_RGB_to_XYZ).T
        xyz = [values @ to.matrix_RGB_to_XYZ.T for values in (converted, reference[fair])]
        distance = colour.delta_E(*(colour.XYZ_to_Lab(values, to.whitepoint) for values in xyz), method="CIE 2000")
        report.limit("colours inside sRGB, against the sRGB picture: median", space, float(numpy.median(distance)), 0.05, "CIEDE2000")
        report.limit("colours inside sRGB, against the sRGB picture: 95 %", space, float(numpy.percentile(distance, 95)), 0.1, "CIEDE2000")


def check_printer(report, programs, frame, scratch, profile):
    """Our conversion of the picture against LittleCMS's through Pillow, in 8 bits, intent by intent."""
    source = carry(programs, frame, scratch / "p3", "--as", "tiff", "--space", "display-p3")
    codes = tifffile.imread(source)
    with Image.open(source) as image:
        display = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    eight = Image.fromarray(((codes.astype(numpy.uint32) * 255 + 32767) // 65535).astype(numpy.uint8))
    printer = ImageCms.ImageCmsProfile(str(profile))
    cases = [
        ("relative", "on", ImageCms.Intent.RELATIVE_COLORIMETRIC),
        ("relative", "off", ImageCms.Intent.RELATIVE_COLORIMETRIC),
        ("perceptual", "on", ImageCms.Intent.PERCEPTUAL),
    ]
    for intent, compensation, theirs in cases:
        options = ["--as", "tiff", "--profile", str(profile), "--intent", intent, "--black-point-compensation", compensation]
        picture = carry(programs, frame, scratch / f"{intent}-{compensation}", *options)
        ours = tifffile.imread(picture).astype(float) / 257.0
        flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if compensation == "on" else ImageCms.Flags.NONE
        transform = ImageCms.buildTransform(display, printer, "RGB", "RGB", renderingIntent=theirs, flags=flags)
        converted = numpy.asarray(ImageCms.applyTransform(eight, transform)).astype(float)
        difference = numpy.abs(ours - converted)
        label = f"{intent}, compensation {compensation}"
        mean, most = LIMITS[compensation]
        report.limit("printer: mean distance to Pillow's conversion", label, float(difference.mean()), mean, "levels of 255", WHY)
        report.limit("printer: 99.9 %", label, float(numpy.percentile(difference, 99.9)), most, "levels of 255", WHY)
