"""Opening a file for a command: problems go to the error stream, the rest goes on."""

from __future__ import annotations

from oneline.cli.main import say
from oneline.files import CannotOpen, Opened, earlier_versions, read_drawing


def open_or_say(path: str) -> Opened | CannotOpen:
    """The opened file, or why it cannot be opened. Everything wrong with it is said on the error stream."""
    try:
        opened = read_drawing(path)
    except CannotOpen as bad:
        say(f"{path}: {bad.problem}")
        kept = earlier_versions(path)
        if kept:
            say(f"{path}: The latest earlier version is {kept[0]}.")
        return bad
    for problem in opened.problems:
        say(f"{path}: {problem}")
    return opened
