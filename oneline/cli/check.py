"""``oneline check``: studies drawings and says what holds, what fails and what is not known yet."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from oneline.cli.main import FAILED, GOOD, WRONG
from oneline.cli.opening import open_or_say
from oneline.files import CannotOpen


def check(options: argparse.Namespace) -> int:
    """Study each file; the worst outcome is the exit code."""
    from oneline.study import study

    code = GOOD
    records: list[dict[str, Any]] = []
    for path in options.files:
        opened = open_or_say(path)
        if isinstance(opened, CannotOpen):
            code = WRONG
            if options.json:
                from oneline.cli.record import error_record

                records.append(error_record(path, opened.problem))
            continue
        result = study(opened.drawing, options.view, options.edition)
        tried = None
        if options.remedies:
            from oneline.study.tried import try_all

            tried = try_all(opened.drawing, result.verdicts, options.view, options.edition)
        failed = any(v.state == "fail" and not v.alternative for v in result.verdicts)
        code = max(code, WRONG if opened.problems else FAILED if failed else GOOD)
        if options.json:
            from oneline.cli.record import report_record

            records.append(report_record(path, opened.drawing, result, opened.problems, tried))
        else:
            from oneline.cli.report import report

            print(report(path, opened.drawing, result, everything=options.all, tried=tried))
    if options.json:
        answer = records[0] if len(options.files) == 1 else records
        json.dump(answer, sys.stdout, ensure_ascii=False, indent=1, allow_nan=False)
        print()
    return code
