"""Drawings as files: strict opening, saving that never loses the last file, recovery copies, the format's schema."""

from oneline.files.fingerprint import Fingerprint, changed_outside
from oneline.files.problems import CannotOpen, CannotSave, ChangedOutside, FileTrouble, LeavesOut, LeftOut, Problem
from oneline.files.reader import Opened, read_drawing
from oneline.files.serialize import to_bytes
from oneline.files.versions import earlier_versions
from oneline.files.writer import Saved, checked_bytes, write_drawing

__all__ = [
    "CannotOpen", "CannotSave", "ChangedOutside", "FileTrouble", "Fingerprint", "LeavesOut", "LeftOut", "Opened",
    "Problem", "Saved", "changed_outside", "checked_bytes", "earlier_versions", "read_drawing", "to_bytes", "write_drawing",
]  # fmt: skip
