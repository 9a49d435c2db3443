"""Compares the built program with outside libraries: LittleCMS (through Pillow), exifread, Pillow, LibRaw (through rawpy),
colour-science, and figures of scikit-image. Run by run.sh; the first argument is the folder with the built programs.

HOUSELIGHTS_RAWS names the folder with the real raw files; without it, or without one of them, its checks are skipped aloud.
Exits with 1 when a check fails.
"""

import os
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from faithful import D65_XY, check_own_way, check_specification
from frames import decode
from mosaic import check_mosaic
from noise import check_noise
from outputs import check_printer, check_spaces
from profile_and_metadata import check_exif, check_profile, check_xmp
from report import Report

RAWS = ["stage-blue.arw", "park.nef", "tree.crw"]


def carry(programs, frame, folder, *options):
    """One frame through the program with no compression to speak of; returns the picture."""
    command = [programs / "houselights", "carry", frame, "--to", folder, "--follow", "none", "--quality", "100", *options]
    run = subprocess.run(command, capture_output=True, timeout=300, text=True)
    pictures = sorted(folder.glob("*.jpg"))
    if run.returncode != 0 or len(pictures) != 1:
        raise RuntimeError(f"carry ended with {run.returncode}: {run.stderr.strip()}")
    return pictures[0]


def with_white(look, white_xy):
    """A look file's text with another white."""
    table = f"[white]\nx = {white_xy[0]}\ny = {white_xy[1]}\n"
    changed, count = re.subn(r"^\[white\]\n(?:(?!\[).*\n)*", table, look, count=1, flags=re.MULTILINE)
    assert count == 1, "a solved look has a white"
    return changed


def check_real(report, programs, raw, folder):
    """Everything about one real raw file."""
    as_solved, under_d65 = folder / "as-solved", folder / "under-d65"
    look = folder / "solved.toml"
    picture = carry(programs, raw, as_solved, "--reference", raw, "--look", "faithful", "--save-look", look)
    check_profile(report, picture)
    check_exif(report, raw, picture)
    check_xmp(report, raw, picture)
    decoded = decode(programs, raw)
    place = check_mosaic(report, raw, decoded)
    white = tomllib.loads(look.read_text())["white"]
    check_specification(report, raw, picture, decoded, place, (white["x"], white["y"]))
    look.write_text(with_white(look.read_text(), D65_XY))
    picture = carry(programs, raw, under_d65, "--look", look)
    check_own_way(report, raw, picture, decoded, place)


def check_demo(report, programs, frame, folder):
    """Metadata of a demo frame: nothing of it needs a real raw file."""
    picture = carry(programs, frame, folder, "--reference", frame, "--look", "stage")
    check_profile(report, picture)
    check_exif(report, frame, picture)
    check_xmp(report, frame, picture)


def attempt(report, what, where, check, *arguments):
    """A check that breaks has failed, and the others go on."""
    try:
        check(*arguments)
    except Exception as error:
        report.hold(what, where, False, f"{type(error).__name__}: {error}")


def main():
    programs = Path(sys.argv[1]).resolve()
    root = Path(__file__).resolve().parents[2]
    report = Report()
    raws = os.environ.get("HOUSELIGHTS_RAWS")
    with tempfile.TemporaryDirectory() as scratch:
        for number, frame in enumerate(sorted((root / "demo-frames").glob("*.dng"))[:2]):
            folder = Path(scratch) / f"demo-{number}"
            attempt(report, "demo frame goes through", frame.name, check_demo, report, programs, frame, folder)
        frame = sorted((root / "demo-frames").glob("*.dng"))[0]
        attempt(report, "spaces and TIFF", frame.name, check_spaces, report, programs, frame, Path(scratch) / "spaces")
        profile = Path(scratch) / "printer.icc"
        profile.write_bytes(subprocess.run([programs / "examples/printer-profile"], capture_output=True, check=True).stdout)
        attempt(report, "a printer's profile", frame.name, check_printer, report, programs, frame, Path(scratch) / "print", profile)
        attempt(report, "noise reduction", "astronaut", check_noise, report, programs, Path(scratch) / "noise")
        for name in RAWS:
            found = sorted(Path(raws).rglob(name)) if raws else []
            if not found:
                report.skip("real raw file", name, "HOUSELIGHTS_RAWS is not set or does not hold it")
                continue
            folder = Path(scratch) / name
            folder.mkdir()
            attempt(report, "real raw file goes through", name, check_real, report, programs, found[0], folder)
    report.print()
    sys.exit(report.failed > 0)


if __name__ == "__main__":
    main()
