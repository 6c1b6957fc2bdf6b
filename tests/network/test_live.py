"""What is energized from where, on small drawings whose answer anyone of the trade can read off."""

from __future__ import annotations

import subprocess
import sys

import pytest

from oneline.model import Drawing
from oneline.network import build_network
from oneline.network.live import live_state, stays_live


@pytest.fixture
def shop(draw) -> Drawing:
    """Service - main - board with a solar breaker; a transfer switch with a generator feeds a second board."""
    put, join = draw.put, draw.join
    d = put(Drawing(), "service", "utility")
    for breaker in ("main", "solar-breaker", "feeder"):
        d = put(d, "disconnect", breaker)
    d = put(put(d, "bus", "board"), "bus", "panel")
    d = put(put(d, "solar", "roof"), "generator", "gen")
    d = put(put(d, "transfer", "ats"), "load", "lamp")
    d = join(d, "utility.out", "main.line", "run", "service-run")
    d = join(d, "main.load", "board.bus")
    d = join(d, "board.bus", "solar-breaker.line")
    d = join(d, "solar-breaker.load", "roof.out", "run", "roof-run")
    d = join(d, "board.bus", "feeder.line")
    d = join(d, "feeder.load", "ats.normal", "run", "feeder-run")
    d = join(d, "gen.out", "ats.alternate", "run", "gen-run")
    d = join(d, "ats.load", "panel.bus", "run", "panel-run")
    return join(d, "panel.bus", "lamp.in", "run", "lamp-run")


def test_both_sources_reach_the_board(shop):
    state = live_state(build_network(shop))
    assert state.sides("board") == {"bus": {"utility", "roof"}}
    assert state.sides("lamp") == {"in": {"utility", "roof"}}
    assert state.sides("ats") == {"normal": {"utility", "roof"}, "alternate": {"gen"}, "load": {"utility", "roof"}}


def test_open_main_leaves_its_load_side_live_from_the_roof(shop):
    """The case the job is about: the main is open and the board is still live."""
    opened = stays_live(build_network(shop), "main")
    assert opened.sides == {"line": {"utility"}, "load": {"roof"}}
    assert opened.live == ("line", "load")
    assert not opened.changes
    state = live_state(build_network(shop), {"main": False})
    assert state.both_sides_live("main")
    assert not state.both_sides_live("feeder"), "a closed device is not the question"


def test_open_feeder_is_dead_on_its_load_side(shop):
    opened = stays_live(build_network(shop), "feeder")
    assert opened.sides == {"line": {"utility", "roof"}, "load": frozenset()}
    assert opened.live == ("line",)
    assert opened.changes


def test_transfer_switch_on_the_alternate_side(shop):
    net = build_network(shop)
    state = live_state(net, {"ats/normal": False, "ats/alternate": True})
    assert state.sides("panel") == {"bus": {"gen"}}
    assert state.path("gen", net.node("lamp")) == ("gen-run", "ats/alternate", "panel-run", "lamp-run")
    assert state.path("utility", net.node("lamp")) is None
    assert state.when_opened("ats").sides == {"normal": {"utility", "roof"}, "alternate": {"gen"}, "load": frozenset()}


def test_transfer_switch_with_both_sides_closed(shop):
    """Welded contacts, or somebody defeating the interlock: everything feeds everything."""
    state = live_state(build_network(shop), {"ats/alternate": True})
    assert state.sides("board") == {"bus": {"utility", "roof", "gen"}}
    opened = state.when_opened("ats")
    assert opened.sides == {"normal": {"utility", "roof"}, "alternate": {"gen"}, "load": frozenset()}


def test_idle_terminal_of_a_transfer_switch_wired_to_its_own_load_side(draw):
    """A wiring fault: the alternate terminals hang on the panel that the switch feeds. Opening it parts the panel off."""
    put, join = draw.put, draw.join
    d = put(put(put(put(Drawing(), "service", "s"), "transfer", "ats"), "bus", "panel"), "disconnect", "back")
    d = join(d, "s.out", "ats.normal", "run", "r1")
    d = join(d, "ats.load", "panel.bus", "run", "r2")
    d = join(d, "panel.bus", "back.line")
    d = join(d, "back.load", "ats.alternate", "run", "r3")
    state = live_state(build_network(d))
    assert state.sides("ats") == {"normal": {"s"}, "alternate": {"s"}, "load": {"s"}}
    assert state.when_opened("ats").sides == {"normal": {"s"}, "alternate": frozenset(), "load": frozenset()}


def test_transformer_is_energized_from_its_secondary(draw):
    put, join = draw.put, draw.join
    d = put(put(put(Drawing(), "service", "other"), "transformer", "t1"), "disconnect", "primary")
    d = join(d, "other.out", "t1.load", "run", "r1")
    d = join(d, "t1.line", "primary.load", "run", "r2")
    state = live_state(build_network(d))
    assert state.sides("primary") == {"line": {"other"}, "load": {"other"}}
    assert state.when_opened("primary").sides == {"line": frozenset(), "load": {"other"}}


def test_suspected_tie_is_possibly_closed(draw):
    put, join = draw.put, draw.join
    d = put(put(put(Drawing(), "service", "ours"), "service", "theirs"), "disconnect", "main", closed=False)
    d = put(put(d, "bus", "panel"), "bus", "neighbour")
    d = join(d, "ours.out", "main.line", "run", "r1")
    d = join(d, "main.load", "panel.bus")
    d = join(d, "theirs.out", "neighbour.bus", "run", "r2")
    d = join(d, "neighbour.bus", "panel.bus", "tie", "tie")
    net = build_network(d)
    state = live_state(net)
    assert state.sides("panel") == {"bus": frozenset()}
    assert state.sides("panel", possibly=True) == {"bus": {"theirs"}}
    assert not state.both_sides_live("main")
    assert state.both_sides_live("main", possibly=True)
    assert state.path("theirs", net.node("panel")) == ("r2", "tie")
    assert stays_live(net, "main").possibly_live == ("line", "load")
    found_open = live_state(net, {"tie": False})
    assert found_open.sides("panel", possibly=True) == {"bus": frozenset()}
    found_closed = live_state(net, {"tie": True})
    assert found_closed.sides("panel") == {"bus": {"theirs"}}


def test_tie_to_an_unknown_place_is_a_possible_source(draw):
    put, join = draw.put, draw.join
    d = put(put(Drawing(), "bus", "panel"), "disconnect", "branch")
    d = join(d, "panel.bus", "branch.line")
    d = join(d, "branch.load", "", "tie", "mystery")
    net = build_network(d)
    state = live_state(net)
    assert state.sides("panel") == {"bus": frozenset()}
    assert state.sides("panel", possibly=True) == {"bus": {"mystery"}}
    assert state.sides("mystery", possibly=True) == {"a": {"mystery"}}
    assert state.path("mystery", net.node("panel")) == ("mystery", "branch")
    assert state.when_opened("branch").possibly == {"line": frozenset(), "load": {"mystery"}}
    assert state.when_opened("mystery").possibly == {"a": frozenset()}


def test_two_breakers_side_by_side_part_nothing_alone(draw):
    put, join = draw.put, draw.join
    d = put(put(put(Drawing(), "service", "s"), "bus", "top"), "bus", "bottom")
    for name in ("one", "two"):
        d = put(d, "disconnect", name)
        d = join(join(d, "top.bus", f"{name}.line"), f"{name}.load", "bottom.bus")
    d = join(d, "s.out", "top.bus")
    net = build_network(d)
    assert stays_live(net, "one").sides == {"line": {"s"}, "load": {"s"}}
    assert stays_live(net, "one", {"two": False}).sides == {"line": {"s"}, "load": frozenset()}


def test_unknown_names_are_refused(shop):
    net = build_network(shop)
    with pytest.raises(KeyError, match="no branch"):
        live_state(net, {"mane": False})
    with pytest.raises(KeyError, match="cannot be opened"):
        stays_live(net, "board")


def test_empty_drawing():
    state = live_state(build_network(Drawing()))
    assert state.at_node == ()


def test_the_live_state_does_not_load_networkx():
    """Start-up time: networkx costs a tenth of a second and is not needed on this path."""
    code = "import sys, oneline.network.live; sys.exit('networkx' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
