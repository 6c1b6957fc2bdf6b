"""What went wrong with a file, said so that somebody can act on it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with a file.

    ``what``: what is wrong, a sentence. ``where``: the file, item, field and line as far as they are known. ``why``: what
    was found and what would be right. ``what_to_do``: the next step for the user. ``item``: id of the item it is about, ""
    for the whole file. ``line``: line of the file, counted from 1, or ``None``. ``lasting``: saving keeps it
    as it is (entries of a newer version), so it is said again at every opening.
    """

    what: str
    where: str
    why: str
    what_to_do: str
    item: str = ""
    line: int | None = None
    lasting: bool = False

    def __str__(self) -> str:
        place = f" ({self.where})" if self.where else ""
        return " ".join(part for part in (f"{self.what}{place}:", self.why, self.what_to_do) if part)


class FileTrouble(Exception):
    """Base of what reading and writing raise; ``problem`` says what, where, why and what to do."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


class CannotOpen(FileTrouble):
    """Nothing of the file could be opened."""


class CannotSave(FileTrouble):
    """The drawing was not saved. The file that was there before is untouched."""


class ChangedOutside(CannotSave):
    """The file is not the one that was opened: somebody or something else wrote it since. Nothing was written."""
