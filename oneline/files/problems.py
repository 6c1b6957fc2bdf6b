"""What went wrong with a file, said so that somebody can act on it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with a file.

    ``what``: what is wrong, a sentence. ``where``: the file, item, field and line as far as they are known. ``why``: what
    was found and what would be right. ``what_to_do``: the next step for the user. ``item``: id of the item it is about, ""
    for the whole file. ``line``: line of the file, counted from 1, or ``None``. ``lasting``: saving keeps it
    as it is (entries of a newer version), so it is said again at every opening. ``loses``: what it is about stands in the
    file but not in the drawing, so saving the drawing in the file's place would lose it.
    """

    what: str
    where: str
    why: str
    what_to_do: str
    item: str = ""
    line: int | None = None
    lasting: bool = False
    loses: bool = False

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


@dataclass(frozen=True)
class LeftOut:
    """What a file held that the drawing made of it does not hold.

    ``sha256``: of the file's content, so that only saving in the place of that content asks. ``problems``: what it is.
    """

    sha256: str
    problems: tuple[Problem, ...]


class LeavesOut(CannotSave):
    """The file holds something that could not be taken when it was opened and that this save would lose.

    Nothing was written. ``left_out``: what would be lost.
    """

    def __init__(self, problem: Problem, left_out: tuple[Problem, ...]) -> None:
        super().__init__(problem)
        self.left_out = left_out
