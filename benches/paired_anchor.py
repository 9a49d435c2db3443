"""The anchor of benches/paired: raw files to JPEGs by general-purpose libraries, one after the other in one process.

usage: paired_anchor.py FOLDER OUT LONG

Unpack, demosaic, the body's own white, sRGB, a Lanczos resize to LONG pixels on the longer edge (0: full size), JPEG of quality 92
with whole chrominance. Needs rawpy and pillow, in the versions of tests/external/requirements.txt.
"""

import os
import pathlib
import sys

# One thread, as the other side of the pair has one.
os.environ["OMP_NUM_THREADS"] = "1"

import rawpy  # noqa: E402  (reads the number of threads when it is imported)
from PIL import Image  # noqa: E402


def main() -> None:
    folder, out, long_edge = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), int(sys.argv[3])
    for path in sorted(folder.iterdir()):
        try:
            with rawpy.imread(str(path)) as raw:
                pixels = raw.postprocess(use_camera_wb=True, no_auto_bright=True, output_bps=8)
        except rawpy.LibRawFileUnsupportedError:
            # No raw file.
            continue
        picture = Image.fromarray(pixels)
        if long_edge:
            picture.thumbnail((long_edge, long_edge), Image.Resampling.LANCZOS)
        picture.save(out / (path.name + ".jpg"), quality=92, subsampling=0)


main()
