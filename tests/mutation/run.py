"""Mutation testing of calc and rules: changes the program in one place at a time and looks whether a test fails.

    pip install -e ".[test,mutation]"
    python tests/mutation/run.py                     all comparisons and limits, and a sample of the rest
    python tests/mutation/run.py --only taps panels  modules whose path holds one of these words
    python tests/mutation/run.py --again             only what survived the last time

First every test of ROOMS is run once, and the statements of calc and rules that it executes are noted. Then each mutant
is tried in a forked copy of this process, where everything is imported: the changed function's code takes the place of
the old one, memories of earlier answers (``lru_cache``) are emptied, and the tests that execute the changed statement
run, those that found something in that function before and the quick ones of every file first, until one fails. The
outcome of each mutant is a line of results.jsonl in ``--keep``, a directory outside the repository.

What it does not do: tests that take longer than ``--slowest`` seconds (but those of KEPT_ANYWAY), and those of other
rooms, are left out; after ``--budget`` seconds of tests a mutant counts as survived; a test that takes more than ten
times as long as it should counts as one that fails; what a test file computed while it was imported, with the program as
it is, stays.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import random
import resource
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import pytest  # noqa: E402
from _pytest.runner import runtestprotocol  # noqa: E402
from mutations import JUDGED, SAMPLED, Found, Mutant  # noqa: E402
from putting import memories, put, same_examples_every_time  # noqa: E402
from recording import Executed, Recorder  # noqa: E402

ROOMS = ("tests/calc", "tests/rules", "tests/oracles", "tests/study")
#: Tests of what calc and rules do in a drawing; the others test them directly.
DRAWINGS = "tests/study"
#: Slower tests wait for their turn, whatever they found.
QUICK_S = 0.3
#: Rooms whose slow tests are used in spite of that, after all others: exact ones.
KEPT_ANYWAY = ("tests/oracles", "tests/study/numbers")
CODE = ("oneline/calc", "oneline/rules")
_MEMORY_BYTES = 6 << 30


# ------------------------------------------------------------------------------------------------------------ trying
class Trial:
    """Runs the mutants within one pytest session, where all tests are collected and nothing is imported again."""

    def __init__(self, chosen: Sequence[Mutant], found: dict[str, Found], options: argparse.Namespace) -> None:
        self.chosen = chosen
        self.found = found
        self.options = options
        self.executed = Executed(options.keep / "executed.json", options.slowest, KEPT_ANYWAY)
        self.killers: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.results = options.keep / "results.jsonl"
        self.memories: list[Any] = []
        for before in results_before(self.results).values():
            if before["outcome"] == "killed":
                self.killers[before["file"], before["where"]][before["by"]] += 1

    def pytest_sessionstart(self) -> None:
        same_examples_every_time()

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        self.warm(items)
        self.memories = memories()
        gc.collect()
        gc.freeze()
        start, counts = time.monotonic(), Counter[str]()
        with self.results.open("a", encoding="utf-8") as out:
            for i, mutant in enumerate(self.chosen, 1):
                outcome, by, tried, seconds = self.outcome(mutant, items)
                counts[outcome] += 1
                found = {"outcome": outcome, "by": by, "tried": tried, "seconds": round(seconds, 2)}
                print(json.dumps({"id": mutant.id, **asdict(mutant), **found}), file=out, flush=True)
                if i % 50 == 0 or i == len(self.chosen):
                    took = time.monotonic() - start
                    print(f"{i} of {len(self.chosen)}, {took:.0f} s: {dict(counts)}", file=sys.__stdout__, flush=True)
        return True

    def warm(self, items: dict[str, pytest.Item]) -> None:
        """Fill the memories of tables and of the drawing once, before the copies are made."""
        quick = [items[t] for t in sorted(items) if t in self.executed.usable][:: max(1, len(items) // 100)]
        for item in quick:
            runtestprotocol(item, nextitem=None, log=False)

    def outcome(self, mutant: Mutant, items: dict[str, pytest.Item]) -> tuple[str, str, int, float]:
        killers = self.killers[mutant.file, mutant.where]
        statements = self.found[mutant.file].statements.get(mutant.where, ())
        executing = self.executed.tests_of(mutant, statements)
        tests = in_turn((t for t in executing if t in items), killers, self.executed.seconds)
        if not tests:
            return "no test", "", 0, 0.0
        start = time.monotonic()
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            self.try_in_copy(mutant, [items[t] for t in tests], writing)
        os.close(writing)
        with os.fdopen(reading, encoding="utf-8") as pipe:
            said = pipe.read().split("\t")
        _, status = os.waitpid(child, 0)
        seconds = time.monotonic() - start
        if os.WIFSIGNALED(status):
            return "timeout", "", len(tests), seconds
        outcome, by, tried = (*said, "", "", "0")[:3]
        if outcome == "killed":
            killers[by] += 1
        return outcome or "crashed", by, int(tried or 0), seconds

    def try_in_copy(self, mutant: Mutant, items: Sequence[pytest.Item], writing: int) -> None:
        """In the forked copy: change, test, say what came of it, end. Never returns."""
        said = "crashed"
        try:
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            signal.signal(signal.SIGALRM, signal.SIG_DFL)
            resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
            said = self.tested(mutant, items)
        except BaseException as error:
            said = f"crashed\t{type(error).__name__}: {error}\t0".replace("\n", " ")
        finally:
            os.write(writing, said.encode())
            os._exit(0)

    def tested(self, mutant: Mutant, items: Sequence[pytest.Item]) -> str:
        if not put(mutant, self.found[mutant.file].source(mutant)):
            return "not built"
        for memory in self.memories:
            memory.cache_clear()
        start = time.process_time()
        for i, item in enumerate(items):
            following = items[i + 1] if i + 1 < len(items) else None
            signal.alarm(int(10 + 12 * self.executed.seconds[item.nodeid]))
            if any(report.failed for report in runtestprotocol(item, nextitem=following, log=False)):
                return f"killed\t{item.nodeid}\t{i + 1}"
            if time.process_time() - start > self.options.budget:
                return f"survived\tbudget\t{i + 1}"
        return f"survived\t\t{len(items)}"


def in_turn(tests: Iterable[str], killers: Counter[str], seconds: dict[str, float]) -> list[str]:
    """Tests that found something before, then quick ones. The further tests of a file count as a little slower, those that
    go through drawings as much slower."""
    cost: dict[str, float] = {}
    in_file = Counter[str]()
    for test in sorted(tests, key=lambda t: (seconds[t], t)):
        file = test.partition("::")[0]
        cost[test] = seconds[test] * (1 + in_file[file] / 10) * (5 if file.startswith(DRAWINGS) else 1)
        in_file[file] += 1
    return sorted(cost, key=lambda t: (-killers[t] if seconds[t] < QUICK_S else 0, cost[t], t))


# ----------------------------------------------------------------------------------------------------------- choosing
def chosen_mutants(found: dict[str, Found], options: argparse.Namespace) -> list[Mutant]:
    """Comparisons and limits first, all of them; then the sample of the other kinds."""
    every = [m for f in found.values() for m in f.mutants]
    kinds = options.kinds or (*JUDGED, "sample")
    judged = [m for m in every if m.kind in JUDGED and m.words == options.words]
    chosen = sorted((m for m in judged if m.kind in kinds), key=lambda m: kinds.index(m.kind))
    rest = sorted((m for m in every if m.kind in SAMPLED), key=lambda m: m.id)
    if "sample" in kinds:
        chosen += random.Random(options.seed).sample(rest, min(options.sample, len(rest)))
    chosen += [m for m in rest if m.kind in kinds]
    last = last_outcomes(options.keep / "results.jsonl")
    if options.again:
        return [m for m in chosen if last.get(m.id) not in (None, "killed", "timeout")]
    return [m for m in chosen if m.id not in last] if options.resume else chosen


def results_before(results: Path) -> dict[str, dict[str, Any]]:
    """The last outcome of every mutant tried, by its id."""
    if not results.exists():
        return {}
    return {r["id"]: r for r in map(json.loads, results.read_text("utf-8").splitlines())}


def last_outcomes(results: Path) -> dict[str, str]:
    return {id: r["outcome"] for id, r in results_before(results).items()}


def report(found: Iterable[Found], results: Path) -> None:
    """Print mutants by kind with the last outcome of each."""
    last, table = last_outcomes(results), defaultdict[str, Counter[str]](Counter)
    for mutant in (m for f in found for m in f.mutants):
        kind = "in words" if mutant.words and mutant.kind in JUDGED else mutant.kind
        table[kind]["mutants"] += 1
        if mutant.id in last:
            table[kind]["tried"] += 1
            table[kind][last[mutant.id]] += 1
    heads = ("mutants", "tried", "killed", "timeout", "survived", "no test", "not built", "crashed")
    print(f"{'kind':12}" + "".join(f"{h:>11}" for h in heads) + f"{'rate':>8}")
    for kind in (*JUDGED, "in words", *SAMPLED):
        row = table[kind]
        rate = (row["killed"] + row["timeout"]) / max(1, row["tried"] - row["not built"])
        print(f"{kind:12}" + "".join(f"{row[h]:>11}" for h in heads) + f"{rate:8.1%}")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", nargs="*", default=[], help="modules whose path holds one of these words")
    parser.add_argument("--kinds", nargs="*", help=f"of {', '.join((*JUDGED, *SAMPLED))}, sample")
    parser.add_argument("--words", action="store_true", help="instead those in functions that only make sentences")
    parser.add_argument("--sample", type=int, default=500, help="how many mutants of the other kinds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget", type=float, default=10, help="seconds of tests after which a mutant has survived")
    parser.add_argument("--slowest", type=float, default=3.0, help="tests that took longer are left out, seconds")
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "oneline-mutation")
    parser.add_argument("--resume", action="store_true", help="leave out what was tried before")
    parser.add_argument("--again", action="store_true", help="only what survived before")
    parser.add_argument(
        "--record", nargs="*", metavar="TESTS", help="note again which test, of these files, executes what"
    )
    parser.add_argument("--report", action="store_true", help="only print the outcomes")
    options = parser.parse_args()
    os.chdir(ROOT)
    options.keep.mkdir(parents=True, exist_ok=True)
    files = sorted(str(f.relative_to(ROOT)) for room in CODE for f in (ROOT / room).glob("*.py"))
    if options.record is not None or not (options.keep / "executed.json").exists():
        if os.fork() == 0:
            Recorder(ROOT, files, options.slowest).record(options.record or ROOMS, options.keep / "executed.json")
            os._exit(0)
        os.wait()
    files = [f for f in files if not options.only or any(word in f for word in options.only)]
    found = {file: Found(ROOT, file) for file in files}
    if not options.report:
        chosen = chosen_mutants(found, options)
        print(f"{len(chosen)} mutants to try", flush=True)
        pytest.main([*ROOMS, "-q", "-p", "no:cacheprovider", "-s"], plugins=[Trial(chosen, found, options)])
    report(found.values(), options.keep / "results.jsonl")


if __name__ == "__main__":
    main()
