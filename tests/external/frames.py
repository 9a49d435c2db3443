"""What our raw room decoded (through the dump-mosaic example), and LibRaw's view of the same file."""

import json
import subprocess
from dataclasses import dataclass

import colour
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
    def analog_balance(self):
        return numpy.array(self.about["colour"]["analog_balance"])

    def colour_matrix(self, white_xy):
        """XYZ to camera, blended linearly in mired between the calibrations around a white (DNG specification, chapter 6).
        The comparison knows colour matrices only, so a file with forward matrices is no case for it."""
        calibrations = self.about["colour"]["calibrations"]
        assert all(one["forward_matrix"] is None for one in calibrations)
        matrices = [numpy.array(one["colour_matrix"]) for one in calibrations]
        if len(calibrations) == 1:
            return matrices[0]
        uv = colour.UCS_to_uv(colour.XYZ_to_UCS(colour.xy_to_XYZ(white_xy)))
        mired = 1e6 / colour.uv_to_CCT(uv, method="Robertson 1968")[0]
        places = [1e6 / one["temperature"] for one in calibrations]
        order = numpy.argsort(places)
        return numpy.array(
            [
                [numpy.interp(mired, numpy.sort(places), [matrices[at][row, column] for at in order]) for column in range(3)]
                for row in range(3)
            ]
        )


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
