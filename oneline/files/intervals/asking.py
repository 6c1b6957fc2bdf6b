"""What the file does not say is asked, by name and with the choices, and never guessed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from oneline.files.problems import CannotOpen, Problem

#: What can be asked, in the order in which it is decided; the command line has an option of each name.
QUESTIONS = ("time", "date-order", "clock", "meter", "column", "unit", "decimal", "energy", "negative")
#: Longest piece of the file that is repeated in a message.
_SHOWN = 40


@dataclass(frozen=True)
class Choice:
    """One possible answer: its ``key``, and in words what it means here."""

    key: str
    words: str


@dataclass(frozen=True)
class Question:
    """Something the file leaves open. ``free``: another answer than those of the choices is possible too (a time zone).

    ``answer``: the key that was given, "" while it is open.
    """

    name: str
    words: str
    choices: tuple[Choice, ...]
    free: bool = False
    answer: str = ""


class Open(Exception):
    """A question has no answer yet; what depends on it has to wait."""


class OpenTimes(Open):
    """The order of the dates is asked; the columns in which they stand are known."""

    def __init__(self, columns: tuple[int, ...]) -> None:
        super().__init__()
        self.columns = columns


@dataclass
class Asker:
    """The answers that were given, and every question that came up. ``notes``: what was decided from the file itself."""

    answers: Mapping[str, str]
    name: str
    asked: dict[str, Question] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def ask(self, name: str, words: str, choices: tuple[Choice, ...], free: bool = False) -> str:
        """The answer's key. Raises ``Open`` while there is none, ``CannotOpen`` for one that is not possible here."""
        given = self.answers.get(name, "")
        by_key = {choice.key.casefold(): choice.key for choice in choices}
        answer = by_key.get(given.casefold(), given if free else "")
        if given and not answer:
            known = ", ".join(choice.key for choice in choices)
            raise self.refusal(f"The answer {shown(given)} to “{name}” does not fit.", f"Possible are {known}.")
        self.asked[name] = Question(name, words, choices, free, answer)
        if not answer:
            raise Open
        return answer

    def note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)

    def refusal(
        self, why: str, what_to_do: str = "Check that it is the file of the recorder or of the utility."
    ) -> CannotOpen:
        """What is raised when nothing can be made of the file."""
        return refusal(self.name, why, what_to_do)

    @property
    def waiting(self) -> bool:
        return any(not q.answer for q in self.asked.values())


def refusal(
    name: str, why: str, what_to_do: str = "Check that it is the file of the recorder or of the utility."
) -> CannotOpen:
    """The message of a file of which nothing can be made."""
    return CannotOpen(Problem("The recording cannot be read", name, why, what_to_do))


def shown(text: str) -> str:
    """A piece of the file as it may stand in a message."""
    clean = "".join(c if c.isprintable() else " " for c in text).strip()
    return f"“{clean if len(clean) <= _SHOWN else clean[: _SHOWN - 1] + '…'}”"


def some(count: int, one: str, many: str = "") -> str:
    """ "1 row", "3 rows"."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"
