"""The counts that the program decodes, against LibRaw's, photosite by photosite."""

import numpy

from frames import open_libraw, place_in_sensor

# What is known to differ, by file, and why. Largest distance in counts, share of photosites that may differ, and most that the
# mean may be off. Everything else must be equal to the last bit.
KNOWN = {
    "stage-blue.arw": {
        "most": 8,
        "share": 0.8,
        "mean": 0.8,
        "why": "lossy compression: the curve to 14 bits has steps, over which one decoder spreads by dither; LibRaw takes one end",
    },
}
EXACT = {"most": 0, "share": 0.0, "mean": 0.0, "why": "exact"}


def check_mosaic(report, path, decoded):
    """Returns where our active area begins in LibRaw's sensor: column, row."""
    known = KNOWN.get(path.name, EXACT)
    with open_libraw(path) as raw:
        sensor = raw.raw_image.astype(numpy.int64)
        sizes = raw.sizes
    left, top = place_in_sensor(decoded.counts, sensor)
    height, width = decoded.counts.shape
    difference = decoded.counts - sensor[top : top + height, left : left + width]
    report.limit("mosaic: largest distance to LibRaw", path.name, int(numpy.abs(difference).max()), known["most"], "counts", known["why"])
    report.limit("mosaic: photosites that differ", path.name, float((difference != 0).mean()), known["share"], "of all")
    report.limit("mosaic: mean difference", path.name, abs(float(difference.mean())), known["mean"], "counts")
    crop_left, crop_top, crop_width, crop_height = decoded.crop
    inside = (
        left + crop_left >= sizes.left_margin
        and top + crop_top >= sizes.top_margin
        and left + crop_left + crop_width <= sizes.left_margin + sizes.width
        and top + crop_top + crop_height <= sizes.top_margin + sizes.height
    )
    report.hold(
        "picture lies in what LibRaw finds lit",
        path.name,
        inside,
        f"{crop_width} x {crop_height} of {sizes.width} x {sizes.height}",
    )
    return left, top
