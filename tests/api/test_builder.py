"""The Python interface: building, opening, saving; mistakes in a call are said at once."""

from __future__ import annotations

from pathlib import Path

import pytest

import oneline
from oneline.model import Bus, ConductorRun, Disconnect, End, Joint, SuspectedTie
from oneline.model.edits import EditRefused


def test_the_example_of_the_module_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The lines in the docstring of oneline.api are a program."""
    from oneline import api

    assert api.__doc__ is not None
    text = api.__doc__.split("::\n", 1)[1].split("\nEverything is immutable", 1)[0]
    code = "\n".join(line.removeprefix("    ") for line in text.split("\n"))
    monkeypatch.chdir(tmp_path)
    exec(compile(code, "example", "exec"), {})
    drawing = oneline.open(tmp_path / "dock.oneline")
    assert [i.kind for i in drawing.items.values()] == ["service", "disconnect", "bus", "run", "joint"]


def test_connections_find_their_ends() -> None:
    b = oneline.Builder("House")
    utility, main = b.service("Utility"), b.disconnect("Main")
    board, transfer = b.bus("Board"), b.transfer("Transfer")
    engine, array, load = b.generator("Engine"), b.solar("Array"), b.load("Pump")
    runs = [
        b.run(utility, main),
        b.run(board, transfer),
        b.run(engine, transfer.at("alternate")),
        b.run("Transfer", load),
    ]
    back = b.breaker(board, 26, "Array breaker", 30)
    runs.append(b.run(back, array))
    joint, tie, open_tie = b.joint(main, "Board"), b.tie(board, load), b.tie(board)
    ends = [(r.a, r.b) for r in (b.drawing.get(x.id) for x in runs) if isinstance(r, ConductorRun)]
    assert ends == [
        (End(utility.id, "out"), End(main.id, "line")),
        (End(board.id, "bus"), End(transfer.id, "normal")),
        (End(engine.id, "out"), End(transfer.id, "alternate")),
        (End(transfer.id, "load"), End(load.id, "in")),
        (End(back.id, "load"), End(array.id, "out")),
    ]
    assert isinstance(b.drawing.get(joint.id), Joint)
    found = b.drawing.get(open_tie.id)
    assert isinstance(found, SuspectedTie)
    assert found.b is None
    assert b.drawing.get(tie.id).b == End(load.id, "in")  # type: ignore[attr-defined]


def test_values_bases_and_statuses() -> None:
    b = oneline.Builder()
    with b.status("new"), b.runs_like(material="copper", size="4"):
        main = b.disconnect("Main", trip_a=(100, "nameplate"), rating_a=100)
        panel = b.bus("Panel", rating_a=(125, "assumed"))
        first = b.run(main, panel)
        second = b.run(main, panel, size="2", length_ft=(12, "measured"))
    old = b.bus("Old panel")
    item = b.drawing.get(main.id)
    assert isinstance(item, Disconnect)
    assert (item.trip_a, dict(item.basis), item.status) == (100, {"trip_a": "nameplate"}, "new")
    assert [b.drawing.get(r.id).size for r in (first, second)] == ["4", "2"]  # type: ignore[attr-defined]
    assert b.drawing.get(old.id).status == "existing"
    b.change(panel, rating_a=225, sccr_ka=(22, "nameplate"))
    changed = b.drawing.get(panel.id)
    assert isinstance(changed, Bus)
    assert (changed.rating_a, changed.sccr_ka, dict(changed.basis)) == (225, 22, {"sccr_ka": "nameplate"})


def test_schedules() -> None:
    b = oneline.Builder()
    panel = b.bus("Panel", spaces=12)
    b.circuit(panel, 3, "Lights", 20, va=900)
    device = b.breaker(panel, 1, "Feeder breaker", (60, "nameplate"), poles=2)
    b.spare(panel, 2, 20)
    b.spaces(panel, (4, 6))
    found = b.drawing.get(panel.id)
    assert isinstance(found, Bus)
    assert [(c.space, c.use, c.feeds) for c in found.circuits] == [
        (1, "feeder", device.id), (2, "spare", None), (3, "load", None), (4, "space", None), (6, "space", None),
    ]  # fmt: skip
    assert found.circuits[0].trip_a == 60
    b.reading(device, "2026-01-01", a_a=10)
    b.demand(b.service("Utility"), peak_kw=5)
    assert b.drawing.get(device.id).readings[0].a_a == 10


def test_mistakes_are_said() -> None:
    b = oneline.Builder()
    panel, load = b.bus("Panel"), b.load("Pump")
    run = b.run(panel, load)
    with pytest.raises(KeyError, match="no items are named 'Pomp'"):
        b.run(panel, "Pomp")
    with pytest.raises(TypeError, match="ratting_a"):
        b.bus("Other", ratting_a=100)
    with pytest.raises(ValueError, match="no terminal 'line'"):
        panel.at("line")
    with pytest.raises(ValueError, match="no terminal to connect to"):
        b.run(panel, run)
    with pytest.raises(EditRefused, match="Both ends"):
        b.run(panel, panel)
    with pytest.raises(ValueError, match="has no circuits"):
        b.circuit(load, 1, "x")
    with pytest.raises(KeyError, match="No panel is named Nowhere"):
        oneline.print_door(b.drawing, "x.pdf", panel="Nowhere")
    with pytest.raises(ValueError, match="the ending is none of"):
        oneline.export(b.drawing, "x.dwg")
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        oneline.nothing  # type: ignore[attr-defined]  # noqa: B018


def test_open_refuses_silence(tmp_path: Path) -> None:
    b = oneline.Builder()
    b.disconnect("Main", trip_a=100)
    path = tmp_path / "a.oneline"
    saved = oneline.save(b.drawing, path, "2026-03-31T14:05:00Z")
    assert oneline.open(path) == b.drawing
    assert saved.fingerprint == oneline.read(path).fingerprint
    path.write_bytes(path.read_bytes().replace(b'"trip_a":100', b'"trip_a":"100"'))
    with pytest.raises(oneline.HasProblems) as found:
        oneline.open(path)
    assert len(found.value.opened.problems) == 2
    assert found.value.opened.drawing.get("disconnect1").trip_a is None  # type: ignore[attr-defined]


def test_the_root_package_is_light() -> None:
    import subprocess
    import sys

    code = "import oneline, sys; print([m for m in sys.modules if m.startswith('oneline.')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['oneline.version']"
    for name in oneline.__all__:
        assert getattr(oneline, name) is not None
    assert set(oneline.__all__) <= set(dir(oneline))


@pytest.mark.parametrize(
    ("row", "words"),
    [({"va": "1500"}, "va of a circuit"), ({"poles": 7}, "poles"), ({"load_class": "lamp"}, "load_class")],
)
def test_a_row_with_a_value_of_the_wrong_kind_is_refused(row, words):
    b = oneline.Builder()
    panel = b.bus("P")
    with pytest.raises(ValueError, match=words):
        b.circuit(panel, 1, "Lights", 20, **row)


def test_a_view_or_an_edition_that_there_is_not_is_refused():
    with pytest.raises(ValueError, match="existing, proposed"):
        oneline.check(oneline.Builder().drawing, view="future")
    with pytest.raises(ValueError, match="2017"):
        oneline.check(oneline.Builder().drawing, edition=1999)
