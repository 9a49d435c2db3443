"""The `faithful` picture against LibRaw's linear output at the same white.

LibRaw subtracts black, divides by the neutral and interpolates along edges (its AHD, after Hirakawa and Parks 2005); what it gives is white-balanced camera RGB. From there
two ways lead to linear sRGB:

* by the DNG specification's mapping (1.7.1, chapter 6: inverse colour matrix, Bradford adaptation of the white to D65), worked out
  here with colour-science from the very matrix that our file carries. Both sides then use one matrix and one white, so what is left
  is demosaic, rounding to 8 bits, JPEG, and our guard of the gamut's edge;
* LibRaw's own, with LibRaw's table of matrices. It takes white-balanced camera RGB for a scene under D65, so the same white is
  D65, and the distance holds the difference between two published tables too.

Compared are pixels that LibRaw has unclipped and inside sRGB, bright enough that an 8-bit code is small against the colour. A second
comparison takes means of 8 x 8 pixels in linear light, in which less of the demosaic and more of the colour is left.
"""

import warnings
from dataclasses import dataclass

import numpy
import rawpy
from PIL import Image

from frames import open_libraw

# colour-science says aloud which of its optional parts are missing; none of them is used here.
warnings.filterwarnings("ignore", message=".*API features are not available.*")
import colour  # noqa: E402

D65_XY = numpy.array([0.3127, 0.3290])
SRGB = colour.RGB_COLOURSPACES["sRGB"]

# Fractions of range (camera) and of display white (sRGB) that a pixel must keep to. The least channel is also at least this share of
# the greatest: nearer to the gamut's edge our map to sRGB already bends, so that what lies outside keeps its steps.
UNCLIPPED = 0.9
INSIDE = (0.004, 0.95)
EDGE = 0.1
# Least luminance. Below, a step of one 8-bit code is over half a CIEDE2000 unit, and LibRaw has cut noise below black to zero; means
# of 64 pixels can be held to less.
BRIGHT_ENOUGH = 0.02
BRIGHT_ENOUGH_MEAN = 0.005
BLOCK = 8
# LibRaw's outermost rows and columns are interpolated by another rule than the rest.
BORDER = 16
# Every how many-th pixel is compared singly: a prime, so that both phases of the mosaic and of JPEG's blocks are met.
STRIDE = 7


def xyz_of(xy):
    return numpy.array([xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]])


def neutral_of(colour_matrix, white_xy):
    """Camera RGB of the white, green 1."""
    camera = colour_matrix @ xyz_of(white_xy)
    return camera / camera[1]


def libraw_picture(path, neutral, full, output_color):
    """LibRaw's linear picture, 1.0 where a green photosite is full; camera RGB balanced to the neutral, or sRGB.

    `full` is the white level above black: LibRaw takes its saturation parameter so.
    """
    multipliers = 1.0 / neutral
    with open_libraw(path) as raw:
        picture = raw.postprocess(
            output_color=output_color,
            user_wb=[multipliers[0], multipliers[1], multipliers[2], multipliers[1]],
            gamma=(1, 1),
            no_auto_bright=True,
            adjust_maximum_thr=0.0,
            output_bps=16,
            user_sat=round(full),
            demosaic_algorithm=rawpy.DemosaicAlgorithm.AHD,
            highlight_mode=rawpy.HighlightMode.Clip,
            user_flip=0,
        )
        sizes = raw.sizes
    # LibRaw scales so that the least multiplier becomes 1.
    linear = picture.astype(numpy.float32) / 65535.0 * multipliers.min()
    return linear, (sizes.left_margin, sizes.top_margin)


def by_specification(camera, colour_matrix, white_xy):
    """White-balanced camera RGB to linear sRGB, not clipped."""
    white = xyz_of(white_xy)
    to_xyz = numpy.linalg.inv(colour_matrix) @ numpy.diag(neutral_of(colour_matrix, white_xy))
    to_xyz /= (to_xyz @ numpy.ones(3))[1]
    adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, xyz_of(D65_XY), transform="Bradford") @ to_xyz
    matrix = SRGB.matrix_XYZ_to_RGB @ adapted
    # Rows that sum to 1 keep the neutral neutral whatever digits the standard's matrix was rounded to.
    matrix /= matrix.sum(axis=1, keepdims=True)
    return camera @ matrix.T.astype(numpy.float32)


def lab(linear):
    xyz = linear @ SRGB.matrix_RGB_to_XYZ.T
    return colour.XYZ_to_Lab(xyz, D65_XY)


def block_view(values):
    height, width = (size - size % BLOCK for size in values.shape[:2])
    return values[:height, :width].reshape(height // BLOCK, BLOCK, width // BLOCK, BLOCK, *values.shape[2:])


def fair(theirs, bright_enough):
    """Where a linear sRGB picture is inside its gamut and bright enough."""
    least, greatest = theirs.min(axis=2), theirs.max(axis=2)
    luminance = theirs @ SRGB.matrix_RGB_to_XYZ[1].astype(numpy.float32)
    return (least > numpy.maximum(INSIDE[0], EDGE * greatest)) & (greatest < INSIDE[1]) & (luminance > bright_enough)


def colour_distance(ours, theirs):
    return colour.delta_E(lab(ours.astype(float)), lab(theirs.astype(float)), method="CIE 2000")


def distances(ours, theirs, camera):
    """CIEDE2000 of single pixels and of block means, where the comparison is fair, and the share of pixels that are."""
    sparse = (slice(None, None, STRIDE), slice(None, None, STRIDE))
    single = fair(theirs[sparse], BRIGHT_ENOUGH) & (camera[sparse].max(axis=2) < UNCLIPPED)
    pixels = colour_distance(ours[sparse][single], theirs[sparse][single])
    our_means, their_means = (block_view(picture).mean(axis=(1, 3)) for picture in (ours, theirs))
    whole = fair(their_means, BRIGHT_ENOUGH_MEAN) & (block_view(camera).max(axis=(1, 3, 4)) < UNCLIPPED)
    return pixels, colour_distance(our_means[whole], their_means[whole]), float(single.mean())


def overlap(ours, ours_at, theirs, theirs_at):
    """The parts of both pictures that show the same photosites, without the border. Places are columns and rows of the sensor."""
    left, top = (max(a, b) + BORDER for a, b in zip(ours_at, theirs_at, strict=True))
    right = min(ours_at[0] + ours.shape[1], theirs_at[0] + theirs.shape[1]) - BORDER
    bottom = min(ours_at[1] + ours.shape[0], theirs_at[1] + theirs.shape[0]) - BORDER

    def part(picture, at):
        return picture[top - at[1] : bottom - at[1], left - at[0] : right - at[0]]

    return part(ours, ours_at), part(theirs, theirs_at)


def delivered_linear(picture):
    with Image.open(picture) as image:
        encoded = numpy.asarray(image.convert("RGB"))
    table = colour.models.eotf_sRGB(numpy.arange(256) / 255.0).astype(numpy.float32)
    return table[encoded]


def compare(report, label, path, picture, decoded, sensor_place, white_xy, limits, own_way):
    """Holds one delivered picture to LibRaw's."""
    matrix = decoded.colour_matrix(white_xy)
    # What the body multiplied before it counted is part of what its counts call neutral.
    neutral = neutral_of(matrix, white_xy) * decoded.analog_balance
    neutral /= neutral[1]
    full = decoded.about["white"][1] - max(decoded.about["black"])
    camera, theirs_at = libraw_picture(path, neutral, full, rawpy.ColorSpace.raw)
    if own_way:
        theirs, _ = libraw_picture(path, neutral, full, rawpy.ColorSpace.sRGB)
    else:
        theirs = by_specification(camera, matrix, white_xy)
    ours = delivered_linear(picture)
    left, top, width, height = decoded.crop
    report.hold("picture has the crop's size", picture.name, ours.shape[:2] == (height, width))
    ours_at = sensor_place[0] + left, sensor_place[1] + top
    camera, _ = overlap(camera, theirs_at, ours, ours_at)
    theirs, ours = overlap(theirs, theirs_at, ours, ours_at)
    pixels, blocks, share = distances(ours, theirs, camera)
    enough = len(pixels) > 1000 and len(blocks) > 50
    if not report.hold(f"{label}: enough to compare", path.name, enough, f"{share:.1%} of all pixels, {len(blocks)} blocks"):
        return
    for what, values, (median, most) in (("pixels", pixels, limits.pixels), ("8 x 8 means", blocks, limits.blocks)):
        report.limit(f"{label}: {what}, median", path.name, float(numpy.median(values)), median, "CIEDE2000", limits.why)
        report.limit(f"{label}: {what}, 95 %", path.name, float(numpy.percentile(values, 95)), most, "CIEDE2000", limits.why)


@dataclass(frozen=True)
class Limits:
    """Median and 95 % of CIEDE2000 for single pixels and for means of blocks, and why they are what they are."""

    pixels: tuple[float, float]
    blocks: tuple[float, float]
    why: str


# Measured: single pixels 3.1 and 7.7, 1.3 and 4.6, 1.6 and 5.2; means 0.75 and 1.8, 0.33 and 1.3, 0.39 and 1.3. LibRaw's own two
# methods, bilinear and AHD, are as far from each other on these frames: means 0.51 and 1.2, 0.28 and 1.2, 0.36 and 1.3.
ONE_MATRIX = {
    "stage-blue.arw": Limits((3.5, 9.0), (0.95, 2.3), "ISO 3200 and red near black, where noise decides which way a demosaic leans"),
    "park.nef": Limits((1.5, 5.5), (0.4, 1.5), "edges, where demosaics differ"),
    "tree.crw": Limits((1.9, 6.0), (0.5, 1.6), "detail as fine as the mosaic, where demosaics differ most"),
}
# Measured: single pixels 3.3 and 7.4, 1.3 and 4.9, 1.7 and 4.6; means 0.86 and 2.1, 0.52 and 1.8, 0.92 and 1.7.
LIBRAWS_MATRIX = {
    "stage-blue.arw": Limits((3.8, 9.0), (1.0, 2.5), "the tables have the same matrix; demosaics differ as above"),
    "park.nef": Limits((1.6, 5.6), (0.7, 2.2), "two published matrices for this body: 0.7559 -0.2130 ... and 0.7637 -0.2199 ..."),
    "tree.crw": Limits((2.0, 5.5), (1.2, 2.1), "two published matrices for this body: 0.9805 -0.2689 ... and 0.9900 -0.2771 ..."),
}


def check_specification(report, path, picture, decoded, sensor_place, white_xy):
    """The picture under its solved white, both sides with our file's matrix."""
    limits = ONE_MATRIX[path.name]
    compare(report, "faithful, one matrix", path, picture, decoded, sensor_place, white_xy, limits, own_way=False)


def check_own_way(report, path, picture, decoded, sensor_place):
    """The picture under D65, LibRaw going its own way to sRGB."""
    limits = LIBRAWS_MATRIX[path.name]
    compare(report, "faithful, LibRaw's way", path, picture, decoded, sensor_place, D65_XY, limits, own_way=True)
