"""Which test executes which statements of calc and rules, and how long it takes.

Every function gets, in the running program, one more instruction ahead of each statement, which notes its line; that
costs a few percent where a tracer costs several times the running time.
"""

from __future__ import annotations

import ast
import importlib
import json
import signal
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pytest
from mutations import Mutant
from putting import FLAGS, memories, put_code, same_examples_every_time

_HITS = "_mutation_hits"


def instrument(root: Path, file: str) -> bytearray:
    """Let the functions of a file note their lines; the bytes at the lines executed become 1."""
    tree = ast.parse((root / file).read_text("utf-8"))
    hits = bytearray(2 + max((getattr(n, "end_lineno", 0) or 0 for n in ast.walk(tree)), default=0))
    module = importlib.import_module(file.removesuffix(".py").replace("/", "."))
    module.__dict__[_HITS] = hits
    for owner in (tree, *(n for n in tree.body if isinstance(n, ast.ClassDef))):
        for function in (n for n in owner.body if isinstance(n, ast.FunctionDef)):
            _note_lines(function)
            function.decorator_list = []
            whole = ast.fix_missing_locations(ast.Module([function], []))
            space = dict(module.__dict__)
            exec(compile(whole, file, "exec", flags=FLAGS, dont_inherit=True), space)
            put_code(module if owner is tree else getattr(module, owner.name), function.name, space[function.name])
    return hits


def _note_lines(node: ast.AST) -> None:
    for part in ("body", "orelse", "finalbody"):
        block = getattr(node, part, None)
        if isinstance(block, list) and not isinstance(node, ast.ClassDef):
            noted: list[ast.stmt] = []
            for statement in block:
                noted += [*ast.parse(f"{_HITS}[{statement.lineno}] = 1").body, statement]
                _note_lines(statement)
            setattr(node, part, noted)
    for handler in (*getattr(node, "handlers", ()), *getattr(node, "cases", ())):
        _note_lines(handler)


def too_slow(*_: Any) -> None:
    raise TimeoutError("slower than this run waits for")


class Recorder:
    """Runs every test once; ends those that take too long (seconds of processor time)."""

    def __init__(self, root: Path, files: Iterable[str], slowest_s: float) -> None:
        self.root, self.files, self.slowest_s = root, files, slowest_s
        self.hits: dict[str, bytearray] = {}
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.lines: dict[str, dict[int, list[int]]] = {}
        self.memories: list[Any] = []

    def pytest_sessionstart(self) -> None:
        same_examples_every_time()
        signal.signal(signal.SIGVTALRM, too_slow)

    def pytest_collection_finish(self) -> None:
        self.hits = {file: instrument(self.root, file) for file in self.files}
        self.lines = {file: {} for file in self.hits}
        self.memories = memories()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:
        for memory in self.memories:
            memory.cache_clear()
        for hits in self.hits.values():
            hits[:] = bytes(len(hits))
        signal.setitimer(signal.ITIMER_VIRTUAL, self.slowest_s)
        start = time.process_time()
        done = yield
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        number = len(self.seconds)
        self.seconds[item.nodeid] = time.process_time() - start
        for file, hits in self.hits.items():
            at = hits.find(1)
            while at >= 0:
                self.lines[file].setdefault(at, []).append(number)
                at = hits.find(1, at + 1)
        return done

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    def record(self, rooms: Sequence[str], into: Path) -> None:
        """Run the tests of some rooms or files; what a file tells of other tests stays."""
        pytest.main([*rooms, "-q", "-p", "no:cacheprovider", "--tb=line"], plugins=[self])
        kept = json.loads(into.read_text("utf-8")) if into.exists() else {"seconds": {}, "failed": [], "lines": {}}
        old = [test for test in kept["seconds"] if test not in self.seconds]
        renumbered = {number: new for new, number in enumerate(i for i, t in enumerate(kept["seconds"]) if t in old)}
        lines = {
            file: {int(n): [renumbered[i] for i in tests if i in renumbered] for n, tests in found.items()}
            for file, found in kept["lines"].items()
        }
        for file, found in self.lines.items():
            for n, tests in found.items():
                lines.setdefault(file, {}).setdefault(n, []).extend(len(old) + i for i in tests)
        seconds = {test: kept["seconds"][test] for test in old} | self.seconds
        failed = sorted((set(kept["failed"]) & set(old)) | self.failed)
        into.write_text(json.dumps({"seconds": seconds, "failed": failed, "lines": lines}), "utf-8")


class Executed:
    """What a recorder noted. Tests slower than ``slowest_s`` are left out, but those of ``kept_anyway``."""

    def __init__(self, file: Path, slowest_s: float, kept_anyway: tuple[str, ...]) -> None:
        kept = json.loads(file.read_text("utf-8"))
        self.seconds: dict[str, float] = kept["seconds"]
        self.tests = list(self.seconds)
        self.lines: dict[str, dict[int, list[int]]] = {
            file: {int(n): tests for n, tests in lines.items()} for file, lines in kept["lines"].items()
        }
        slow = {t for t, seconds in self.seconds.items() if seconds >= slowest_s}
        self.usable = set(self.tests) - slow - set(kept["failed"]) | {t for t in slow if t.startswith(kept_anyway)}

    def tests_of(self, mutant: Mutant, statements: Iterable[int]) -> set[str]:
        """Tests that execute the statement a mutant is in; for constants and fields those that execute the file at all.
        ``statements``: lines where a statement of that function starts; none for constants and fields."""
        lines = self.lines.get(mutant.file, {})
        starts = [n for n in statements if n <= mutant.first]
        numbers = lines.get(max(starts), ()) if starts else {i for tests in lines.values() for i in tests}
        return {self.tests[i] for i in numbers} & self.usable
