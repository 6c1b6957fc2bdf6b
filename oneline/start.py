"""Entry point: the editor, or one of the commands that need no screen."""

from __future__ import annotations

import sys
from pathlib import Path

COMMANDS = ("check", "fits", "plan", "print", "export", "record", "identify", "doctor")


def main(argv: list[str] | None = None) -> int:
    """Start what the command line asks for; returns the exit code (0 to 4, see ``oneline --help``)."""
    arguments = sys.argv[1:] if argv is None else argv
    if arguments and (arguments[0] in COMMANDS or arguments[0].startswith("-")):
        from oneline.cli.main import run as run_command

        return run_command(arguments)
    if arguments and not Path(arguments[0]).exists():
        print(
            f"oneline: There is neither a command nor a file named {arguments[0]}. Commands: {', '.join(COMMANDS)}.",
            file=sys.stderr,
        )
        return 2
    return _editor(arguments)


def _editor(arguments: list[str]) -> int:
    from oneline.cli.machine import WITHOUT_SCREEN, lacks_for_window, plugin_fault

    lacks = lacks_for_window()
    if not lacks:
        fault = plugin_fault()
        lacks = [] if fault is None else [fault]
    if lacks:
        for lack in lacks:
            print(f"oneline: {lack}", file=sys.stderr)
        if not any(WITHOUT_SCREEN in str(lack) for lack in lacks):
            print(f"oneline: {WITHOUT_SCREEN}", file=sys.stderr)
        return 3
    try:
        from oneline.desk.app import run as run_editor
    except ImportError as bad:
        print(f"oneline: The editor cannot open: {bad}. {WITHOUT_SCREEN}", file=sys.stderr)
        return 3
    return run_editor(arguments)


if __name__ == "__main__":
    raise SystemExit(main())
