"""Noise reduction on a picture with known noise, against how near wavelet methods of general-purpose libraries come to it.

scikit-image's picture `astronaut`, four times as one, in linear light, is given noise of variance 0.004 x + 0.00002, held between
0 and 1, and written as a linear DNG: white noise, nothing of a demosaic in it. The program measures the noise in the file by itself.
"""

import subprocess

import numpy
import skimage
import tifffile

SLOPE, FLOOR = 0.004, 2e-5
BLACK, WHITE = 4096, 65535
# Decibels against the clean picture in linear light, computed with scikit-image 0.26, PyWavelets 1.8 and bm3d 4.0 on this
# picture: noisy 29.51; stabilised, in opponent axes and with BayesShrink over db2, averaged over 4 shifts 35.01, over 16 shifts
# 35.11; BM3D of all three channels 37.74, at a hundred times the work.
NOISY, LEAST = 29.51, 35.0
# The step's own scale: about half of the luminance is the least mean square error. Measured: 35.75 dB.
AMOUNTS = ["0.5", "1.0"]


def decode_srgb(signal):
    """IEC 61966-2-1."""
    return numpy.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)


def encode_srgb(light):
    light = numpy.clip(light, 0, 1)
    return numpy.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def decibels(found, clean):
    return float(-10 * numpy.log10(((found - clean) ** 2).mean()))


def write_linear_dng(path, light):
    """A linear DNG whose camera colour is linear sRGB."""
    counts = numpy.rint(BLACK + (WHITE - BLACK) * light).astype(numpy.uint16)
    # XYZ to linear sRGB (IEC 61966-2-1), in units of 1/10000.
    matrix = [32406, -15372, -4986, -9689, 18758, 415, 557, -2040, 10570]
    rationals = [number for value in matrix for number in (value, 10000)]
    tags = [
        (50706, 1, 4, (1, 4, 0, 0), True),
        (50714, 3, 3, (BLACK,) * 3, True),
        (50717, 3, 3, (WHITE,) * 3, True),
        (50721, 10, 9, rationals, True),
        (50728, 5, 3, (1, 1) * 3, True),
        (50778, 3, 1, 21, True),
    ]
    tifffile.imwrite(path, counts, photometric=34892, planarconfig="contig", metadata=None, extratags=tags)


def check_noise(report, programs, folder):
    folder.mkdir()
    codes = skimage.data.astronaut().astype(float) / 255
    clean = numpy.tile(decode_srgb(codes), (2, 2, 1))
    random = numpy.random.RandomState(5)
    noisy = numpy.clip(clean + random.randn(*clean.shape) * numpy.sqrt(SLOPE * clean + FLOOR), 0, 1)
    file = folder / "noisy.dng"
    write_linear_dng(file, noisy)
    run = subprocess.run([programs / "examples/noise-stage", file, *AMOUNTS], capture_output=True, timeout=300)
    if run.returncode != 0:
        raise RuntimeError(run.stderr.decode(errors="replace").strip())
    _, pixels = run.stdout.split(b"\n", 1)
    quiet = decode_srgb(numpy.frombuffer(pixels, ">u2").reshape(clean.shape) / 65535)
    before, after = decibels(noisy, clean), decibels(quiet, clean)
    report.hold("noise of the made picture is as given", "astronaut", abs(before - NOISY) < 0.01, f"{before:.2f} dB, {NOISY} dB known")
    report.hold("noise reduction, linear light", "astronaut", after >= LEAST, f"{after:.2f} dB, at least {LEAST}")
    signal = [decibels(encode_srgb(picture), encode_srgb(clean)) for picture in (noisy, quiet)]
    report.note("noise reduction, sRGB signal", "astronaut", f"{signal[0]:.2f} dB to {signal[1]:.2f} dB")

