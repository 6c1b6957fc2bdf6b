"""Builds the samples with the Python interface: ``python samples/build.py [FOLDER]``. The same every time, byte for byte."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import bindery  # noqa: E402
import cannery  # noqa: E402

from oneline import save  # noqa: E402
from oneline.sheet.layout import arrange  # noqa: E402

#: The time that stands in the files, so that they do not change when nothing else does.
SAVED_UTC = "2026-04-20T12:00:00Z"
SAMPLES = {"cannery.oneline": cannery.build, "bindery.oneline": bindery.build}


def main(folder: Path = HERE) -> None:
    """Write all samples into a folder."""
    for name, build in SAMPLES.items():
        drawing = arrange(build().drawing)
        save(drawing, folder / name, SAVED_UTC)
        print(f"{name}: {len(drawing)} items")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
