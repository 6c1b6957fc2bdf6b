"""The commands that need no screen: check, fits, plan, print, export, record, identify, doctor. None of them imports Qt."""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Callable
from typing import NoReturn

from oneline.model.vocabulary import EDITIONS, VIEWS
from oneline.version import VERSION

#: Exit codes.
GOOD, FAILED, WRONG, LACKING, FAULT = 0, 1, 2, 3, 4

_EPILOG = """\
exit codes:
  0  nothing failed
  1  a check failed
  2  the file or the call is wrong
  3  the machine lacks something; it is named
  4  a fault of the program itself

The tool is an aid. The locally adopted code and the authority having jurisdiction decide.
"""


#: What the letters of a reading stand for where they are no phases.
_CONDUCTORS = {"n": "neutral", "g": "ground"}


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints say what, why and what to do, without the whole usage."""

    def error(self, message: str) -> NoReturn:
        said = message.replace("invalid choice: ", "there is no ")
        say(f"The call cannot be carried out: {said}.", what_to_do=f"See {self.prog} --help.")
        raise SystemExit(WRONG)


def parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    top = _Parser(
        prog="oneline",
        usage="oneline [FILE]\n       oneline COMMAND ...",
        description="Single-line diagrams of low-voltage services. Without a command the editor opens.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"oneline {VERSION}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True, prog="oneline")

    check = commands.add_parser("check", help="study drawings and say what holds, what fails and what is not known yet")
    check.add_argument("files", nargs="+", metavar="FILE")
    _study_options(check)
    check.add_argument("--json", action="store_true", help="one JSON object for a file, a list of them for several")
    check.add_argument("--all", action="store_true", help="also list what passes and every conductor run")
    check.add_argument(
        "--remedies", action="store_true",
        help="try on a copy what would make each finding pass, and tell bounds of what is not known (takes seconds)",
    )  # fmt: skip

    fits = commands.add_parser(
        "fits", help="say what load may still be added at a point, and which limits are met in turn"
    )
    fits.add_argument("file", metavar="FILE")
    fits.add_argument("--at", required=True, metavar="ITEM", help="name or id of the panel, bus, device or conductors")
    fits.add_argument("--continuous", action="store_true", help="the added load runs for 3 hours or more")
    fits.add_argument("--json", action="store_true")
    _study_options(fits)

    _plan(commands)

    paper = commands.add_parser("print", help="make a PDF for paper")
    paper.add_argument("file", metavar="FILE")
    paper.add_argument(
        "--paper", required=True, choices=("door", "record"),
        help="door: diagram and directory for the panel door; record: recorded demand with its plot",
    )  # fmt: skip
    paper.add_argument("-o", "--output", required=True, metavar="OUT.pdf")
    paper.add_argument("--size", choices=("letter", "tabloid"), default="letter")
    paper.add_argument("--panel", metavar="NAME", help="only this panel's circuit directory; by default every panel's")
    paper.add_argument("--at", metavar="ITEM", help="only the record of this service, meter or generator")
    _study_options(paper)

    _recording(commands)

    export = commands.add_parser("export", help="write the diagram as .svg, .png or .pdf")
    export.add_argument("file", metavar="FILE")
    export.add_argument("-o", "--output", required=True, metavar="OUT.svg|OUT.png|OUT.pdf")
    _study_options(export)

    _identify(commands)

    doctor = commands.add_parser("doctor", help="tell what this machine has and lacks")
    doctor.add_argument("--json", action="store_true")
    return top


def _plan(commands: argparse._SubParsersAction[_Parser]) -> None:
    """The command that plans outages. Exit code 1: not isolated, not known, a step fails, or a bad order."""
    command = commands.add_parser(
        "plan",
        help="say how a work zone is made dead by the drawing, in which order, and print the papers for it",
        epilog="exit code 1: the zone cannot be isolated, or that is not known, or a step of the order fails",
    )
    command.add_argument("file", metavar="FILE")
    what = command.add_mutually_exclusive_group()
    what.add_argument("--zone", metavar="ID", help="id or name of a planned outage; without it they are listed")
    what.add_argument(
        "--items", action="append", metavar="ITEM,ITEM", help="names or ids of what is worked on; nothing is saved"
    )
    command.add_argument("--json", action="store_true")
    command.add_argument("--pdf", metavar="OUT.pdf", help="print the papers instead of the report")
    command.add_argument(
        "--paper", choices=("order", "cards", "notice", "brief", "all"), default="all",
        help="order: switching order to sign; cards: what is tested at each point; notice: for occupants; brief: for crew",
    )  # fmt: skip
    command.add_argument("--size", choices=("letter", "tabloid", "a4"), default="letter")
    _study_options(command)
    command.set_defaults(view=None)


def _recording(commands: argparse._SubParsersAction[_Parser]) -> None:
    """The command that reads interval data. What a file leaves open is asked by name; there is an option of each name."""
    command = commands.add_parser(
        "record", help="read interval data of a recorder or a utility (CSV, or XML after NAESB REQ.21), into a drawing"
    )
    command.add_argument("data", metavar="DATA")
    command.add_argument("--into", metavar="FILE", help="the drawing the record goes into; without it, only look")
    command.add_argument(
        "--at", metavar="ITEM", help="name or id of the service, meter or generator it was recorded at"
    )
    command.add_argument("-o", "--output", metavar="OUT", help="save the drawing under another name")
    yes_no = ("yes", "no")
    command.add_argument("--occupied", choices=yes_no, help="whether the building was in normal use")
    command.add_argument("--seasonal", choices=yes_no, help="whether the larger of heating and cooling is in it")
    command.add_argument("--power-factor", type=float, metavar="PF")
    command.add_argument("--source", metavar="TEXT", help="who recorded it, with what")
    asked = command.add_argument_group("what the file may leave open")
    for name, words in (
        ("time", "column that holds the time, counted from 1"),
        ("date-order", "mdy, dmy or ymd"),
        ("clock", "daylight, standard or a zone like America/Chicago"),
        ("meter", "which of several in the file"),
        ("column", "name or number of the column of the demand; of several phases parted by commas"),
        ("unit", "kW, W, kVA, VA, kWh, Wh, kVAh or A"),
        ("decimal", "comma or point"),
        ("energy", "interval or register (a running total)"),
        ("negative", "export, reversed or noise"),
        ("stamps", "start or end: where in its interval the time of a row stands"),
    ):
        asked.add_argument(f"--{name}", dest=f"answer_{name}", metavar="ANSWER", help=words)
    command.add_argument(
        "--edition", type=int, choices=EDITIONS, help="edition of the code; by default the drawing's own"
    )


def _identify(commands: argparse._SubParsersAction[_Parser]) -> None:
    """The command that names systems by measured voltages: an option a reading."""
    command = commands.add_parser("identify", help="name the nominal systems that measured voltages fit")
    for reading in ("ab", "bc", "ca", "an", "bn", "cn", "ag", "bg", "cg", "ng"):
        one, other = (_CONDUCTORS.get(letter, letter.upper()) for letter in reading)
        command.add_argument(f"--{reading}", metavar="V", help=f"volts measured from {one} to {other}")
    command.add_argument("--json", action="store_true")


def _study_options(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--edition", type=int, choices=EDITIONS, help="edition of the code; by default the drawing's own"
    )
    command.add_argument(
        "--view", choices=VIEWS, default="proposed", help="what is there, or with the new work (default)"
    )


def run(arguments: list[str]) -> int:
    """Carry out a command line (without the program's name); returns the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        options = parser().parse_args(arguments)
    except SystemExit as done:
        return done.code if isinstance(done.code, int) else WRONG
    try:
        code = _command(options.command)(options)
        sys.stdout.flush()
        return code
    except BrokenPipeError:  # the reader of our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return GOOD
    except KeyboardInterrupt:
        return 130
    except ModuleNotFoundError as bad:
        if (bad.name or "").split(".")[0] == "oneline":
            return _fault()
        say(
            f"The Python package {bad.name} is not installed.",
            "The command needs it.",
            "Install Oneline again with pip.",
        )
        return LACKING
    except Exception:
        return _fault()


def _fault() -> int:
    traceback.print_exc()
    say(
        "The program itself failed.",
        "This should not happen, whatever is in the file.",
        "Please report the lines above.",
    )
    return FAULT


def _command(name: str) -> Callable[[argparse.Namespace], int]:
    if name == "check":
        from oneline.cli.check import check

        return check
    if name == "fits":
        from oneline.cli.fits import fits

        return fits
    if name == "plan":
        from oneline.cli.plan import plan

        return plan
    if name in ("print", "export"):
        from oneline.cli import output

        return output.print_paper if name == "print" else output.export_diagram
    if name == "record":
        from oneline.cli.recording import record

        return record
    if name == "identify":
        from oneline.cli.identify import identify

        return identify
    from oneline.cli.doctor import doctor

    return doctor


def say(what: str, why: str = "", what_to_do: str = "") -> None:
    """One message on the error stream: what, why, what to do."""
    print("oneline: " + " ".join(part for part in (what, why, what_to_do) if part), file=sys.stderr)
