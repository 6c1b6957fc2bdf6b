"""Transfer switches that may move by themselves: what they can bring from their other supply.

Physics: such a switch stands in one position or the other, never in both, so it never joins its two supplies. A source
possibly reaches a place when some combination of the switches' positions connects the two. Between the switches the
drawing falls into pieces; a way through pieces may use only one position of each switch. Since both positions of a switch
meet at its load side, that means: a way never enters by one position of a switch and leaves by the other.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from oneline.model import TransferSwitch
from oneline.network.feeding import Feeding
from oneline.network.topology import Network

#: Steps after which the search for ways of single positions gives up. What is connected at all counts then, which is
#: never less. Switches side by side and one behind another take one step for each piece.
_STEPS_AT_MOST = 5000

#: Ways out of each piece: (branch key, switch id, piece beyond).
Links = Mapping[int, tuple[tuple[str, str, int], ...]]


@dataclass(frozen=True)
class Movable:
    """A transfer switch that may stand in either position: its branch keys with the supply's and the load's node."""

    item: str
    ways: tuple[tuple[str, int, int], ...]


def movable(net: Network, positions: Mapping[str, bool]) -> tuple[Movable, ...]:
    """Transfer switches that may move: not those whose contacts were given a position, nor what is moved by hand."""
    found = []
    for item in net.drawing.of(TransferSwitch):
        keys = net.branches_of(item.id)
        if item.automatic is not False and not any(key in positions for key in keys):
            ways = tuple((key, net.branches[key].a, net.branches[key].b) for key in keys)
            found.append(Movable(item.id, ways))
    return tuple(found)


def standing(net: Network, opened: Collection[str] = ()) -> tuple[Movable, ...]:
    """Every transfer switch but those held off: whoever moves it, it stands in either position."""
    return tuple(
        Movable(item.id, tuple((key, net.branches[key].a, net.branches[key].b) for key in net.branches_of(item.id)))
        for item in net.drawing.of(TransferSwitch)
        if item.id not in opened
    )


def behind(feeding: Feeding) -> dict[str, tuple[str, ...]]:
    """{item id: transfer switches that lose a supply when the item is opened and may move to the other by themselves}: of
    everything on the way of their normal supply, and of the one that they are on now."""
    found: dict[str, list[str]] = {}
    for switch in movable(feeding.network, {}):
        for key, supply, _ in switch.ways:
            branch = feeding.network.branches[key]
            if branch.normally_closed or branch.closed:
                for above, _ in feeding.path(supply):
                    if switch.item not in found.setdefault(above.item.id, []):
                        found[above.item.id].append(switch.item)
    return {item: tuple(switches) for item, switches in found.items()}


def links_between(switches: tuple[Movable, ...], piece: Callable[[int], int]) -> Links:
    """Ways between the pieces that nodes belong to."""
    found: dict[int, list[tuple[str, str, int]]] = {}
    for switch in switches:
        for key, supply, load in switch.ways:
            a, b = piece(supply), piece(load)
            if a != b:
                found.setdefault(a, []).append((key, switch.item, b))
                found.setdefault(b, []).append((key, switch.item, a))
    return {at: tuple(ways) for at, ways in found.items()}


def reached(start: int, links: Links) -> set[int]:
    """Pieces that some combination of positions connects with a piece, itself included."""
    found = {start}
    waiting: list[tuple[int, str, frozenset[int]]] = [(start, "", frozenset((start,)))]
    steps = 0
    while waiting:
        at, came, passed = waiting.pop()
        steps += 1
        if steps > _STEPS_AT_MOST:
            return _connected(start, links)
        for _, switch, other in links.get(at, ()):
            if switch != came and other not in passed:
                found.add(other)
                waiting.append((other, switch, passed | {other}))
    return found


def _connected(start: int, links: Links) -> set[int]:
    found, waiting = {start}, [start]
    while waiting:
        for _, _, other in links.get(waiting.pop(), ()):
            if other not in found:
                found.add(other)
                waiting.append(other)
    return found
