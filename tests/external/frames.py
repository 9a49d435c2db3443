"""What our raw room decoded (through the dump-mosaic example), and LibRaw's view of the same file."""

import json
import subprocess
from dataclasses import dataclass

import numpy
import rawpy


@dataclass
class Decoded:
    """Counts of the active area and what the program says of them."""

    counts: numpy.ndarray
    about: dict

    @property
    def crop(self):
        crop = self.about["crop"]
        return crop["left"], crop["top"], crop["width"], crop["height"]

    @property
    def colour_matrix(self):
        """XYZ to camera. The comparison knows one calibration light only, so a file with more is no case for it."""
        calibrations = self.about["colour"]["calibrations"]
        assert len(calibrations) == 1 and calibrations[0]["forward_matrix"] is None
        return numpy.array(calibrations[0]["colour_matrix"])


def decode(programs, path):
    run = subprocess.run([programs / "examples/dump-mosaic", path], capture_output=True, timeout=120)
    if run.returncode != 0:
        raise RuntimeError(run.stderr.decode(errors="replace").strip())
    kind, width, height, _, pixels = run.stdout.split(maxsplit=4)[:4] + [run.stdout.split(b"\n", 1)[1]]
    assert kind == b"P5"
    counts = numpy.frombuffer(pixels, ">u2").reshape(int(height), int(width)).astype(numpy.int64)
    return Decoded(counts, json.loads(run.stderr.decode().splitlines()[-1]))


def place_in_sensor(counts, sensor):
    """Column and row of `sensor` (all photosites, as LibRaw has them) at which `counts` begins: where its middle fits best."""
    height, width = counts.shape
    middle = slice(height // 2, height // 2 + 32), slice(width // 2, width // 2 + 32)
    sample = counts[middle]

    def distance(place):
        left, top = place
        theirs = sensor[middle[0].start + top : middle[0].stop + top, middle[1].start + left : middle[1].stop + left]
        return numpy.abs(theirs - sample).mean()

    places = [
        (left, top)
        for top in range(sensor.shape[0] - height + 1)
        for left in range(sensor.shape[1] - width + 1)
    ]
    return min(places, key=distance)


def open_libraw(path):
    return rawpy.imread(str(path))
