"""Quick live states of many positions against the independent oracle of ``test_live_oracle``: networkx over terminals."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path
from types import ModuleType

import pytest

from oneline.model import TransferSwitch
from oneline.model.edits import change
from oneline.network import build_network
from oneline.network.contracted import LiveFinder
from oneline.network.live import live_state


def _sibling(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"network_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


conftest, oracle = _sibling("conftest"), _sibling("test_live_oracle")


@pytest.mark.parametrize("seed", range(60))
def test_certainly_live_as_networkx_finds_it(seed: int) -> None:
    rng = random.Random(seed)
    drawing = conftest.random_drawing(rng, 6, 4)
    finder = LiveFinder(build_network(drawing))
    keys = oracle.contacts(drawing)
    for _ in range(12):
        closed = {key: rng.random() < 0.5 for key in keys}
        state = finder.state(closed)
        graph = oracle.terminal_graph(drawing, closed, ties_closed=False)
        for (item, terminal), sources in oracle.sources_by_terminal(drawing, graph).items():
            if item in drawing:
                assert state.at_node[finder.net.node(item, terminal)] == sources, (seed, item, terminal)


@pytest.mark.parametrize("seed", range(40))
def test_possibly_live_as_networkx_finds_it_where_no_switch_moves_by_itself(seed: int) -> None:
    rng = random.Random(1000 + seed)
    drawing = conftest.random_drawing(rng, 6, 4)
    for item in list(drawing.of(TransferSwitch)):
        drawing = change(drawing, item.id, automatic=False)
    finder = LiveFinder(build_network(drawing))
    closed = {key: rng.random() < 0.5 for key in oracle.contacts(drawing)}
    state = finder.state(closed)
    graph = oracle.terminal_graph(drawing, closed, ties_closed=True)
    for (item, terminal), sources in oracle.sources_by_terminal(drawing, graph).items():
        if item in drawing:
            found = state.possibly_at_node[finder.net.node(item, terminal)]
            assert found == sources, (seed, item, terminal)


@pytest.mark.parametrize("seed", range(40))
def test_every_answer_is_that_of_the_state_worked_out_node_by_node(seed: int) -> None:
    rng = random.Random(2000 + seed)
    drawing = conftest.random_drawing(rng, 9, 5)
    net = build_network(drawing)
    finder = LiveFinder(net)
    for _ in range(8):
        positions = {key: rng.random() < 0.5 for key in net.branches if rng.random() < 0.4}
        quick, slow = finder.state(positions), live_state(net, positions)
        assert quick.at_node == slow.at_node
        assert quick.possibly_at_node == slow.possibly_at_node
        for item in drawing.items:
            assert quick.sides(item, possibly=True) == slow.sides(item, possibly=True)


def test_a_key_that_is_no_branch_is_named() -> None:
    finder = LiveFinder(build_network(conftest.random_drawing(random.Random(1), 3, 2)))
    with pytest.raises(KeyError, match="nowhere"):
        finder.state({"nowhere": True})
