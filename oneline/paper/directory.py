"""The circuit directories of the panels: what stands in each space, said so that nobody takes a guess for a fact."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

from oneline.model import Bus, Circuit, Disconnect, Drawing, Joint, TransferSwitch
from oneline.model.drawing import circuit_spaces
from oneline.model.vocabulary import STATUS_LETTERS
from oneline.network import Feeding, Network, build_feeding, build_network
from oneline.paper.facts import UNKNOWN, amps, named, place_of, rating_of, system_words
from oneline.paper.page import short
from oneline.study import StudyResult

UNIDENTIFIED = "UNIDENTIFIED - trace before work"
#: What stands where a panel has no line in its directory.
NOT_KNOWN = "The directory of this panel is not known."
BY_LABEL = "*"


@dataclass(frozen=True)
class Space:
    """One space of a panel: its number, what it feeds, and its device ("20/1": amperes and poles)."""

    number: int
    text: str
    device: str = ""
    strong: bool = False
    #: "1–5" or "27–35" where one line stands for several spaces.
    numbers: str = ""

    @property
    def label(self) -> str:
        """The space numbers as printed."""
        return self.numbers or str(self.number)


@dataclass(frozen=True)
class Directory:
    """A panel's circuit directory: heading lines, and rows of a left (odd) and a right (even) space.

    ``others``: devices on its bus that nobody gave a space number.
    """

    panel: str
    heading: tuple[str, ...]
    rows: tuple[tuple[Space | None, Space | None], ...]
    by_label: bool
    others: str = ""


def directories_of(drawing: Drawing, result: StudyResult, panel: str | None = None) -> tuple[Directory, ...]:
    """The directories of all panels of the view that have circuits, or of one panel by its id: without any it has no rows
    and says that its directory is not known."""
    view = drawing.view(result.view)
    net = build_network(view)
    feeding = build_feeding(net)
    out = []
    for bus in view.of(Bus):
        spaces = _spaces(drawing, view, bus)
        if bus.id != panel if panel is not None else not spaces:
            continue
        last = max([*spaces, bus.spaces or 0]) if spaces else 0
        rows = tuple(
            (spaces.get(n) or Space(n, UNKNOWN), (spaces.get(n + 1) or Space(n + 1, UNKNOWN)) if n < last else None)
            for n in range(1, last + 1, 2)
        )
        by_label = any(s.text.endswith(BY_LABEL) for s in spaces.values())
        heading = _heading(drawing, result, bus, net, feeding)
        heading = heading if spaces else (*heading, NOT_KNOWN)
        out.append(Directory(named(drawing, bus.id), heading, rows, by_label, _others(drawing, view, bus)))
    return tuple(out)


def panels_not_known(drawing: Drawing, view: str) -> tuple[str, ...]:
    """Names of the panelboards of a view whose directory nobody entered, in the drawing's order."""
    shown = drawing.view(view)
    boards = (bus for bus in shown.of(Bus) if bus.form == "panelboard" and not _spaces(drawing, shown, bus))
    return tuple(named(drawing, bus.id) for bus in boards)


def compacted(directory: Directory) -> Directory:
    """The same directory in fewer lines: spaces of one device, and runs of alike empty ones, share a line.

    Odd spaces stay left and even ones right, so "1–5" on the left are 1, 3 and 5. A status letter that every line carries
    as the panel does goes to the heading.
    """
    sides = [[row[k] for row in directory.rows] for k in (0, 1)]
    left, right = (_joined([s for s in side if s is not None]) for side in sides)
    letter = directory.panel[-4:] if directory.panel.endswith(tuple(f" ({x})" for x in "NRF")) else ""
    used = [s for s in (*left, *right) if s.text != UNKNOWN]
    heading = directory.heading
    if letter and all(s.text.endswith(letter) for s in used):
        left, right = ([replace(s, text=s.text.removesuffix(letter)) for s in side] for side in (left, right))
        heading = (*heading, f"All circuits{letter}.")
    rows = tuple(zip_longest(left, right))
    return replace(directory, rows=rows, heading=heading)


def _joined(side: list[Space]) -> list[Space]:
    out: list[list[Space]] = []
    for space in side:
        first = out[-1][0] if out else None
        same = first is not None and space.text == f"with {first.number}"
        empty = space.text.startswith(("SPACE", "SPARE")) or space.text == UNKNOWN
        alike = first is not None and empty and (space.text, space.device) == (first.text, first.device)
        if same or alike:
            out[-1].append(space)
        else:
            out.append([space])
    return [replace(part[0], numbers=_numbers([s.number for s in part])) for part in out]


def _numbers(numbers: list[int]) -> str:
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"


def _devices(view: Drawing, bus: Bus) -> Iterator[tuple[Disconnect, bool]]:
    """Devices bolted to a bus that none of its circuits stands for; true where the bus is on their load side."""
    fed = {c.feeds for c in bus.circuits if c.feeds}
    for joint in view.of(Joint):
        for near, far in ((joint.a, joint.b), (joint.b, joint.a)):
            device = view.items.get(far.item)
            if near.item == bus.id and isinstance(device, Disconnect) and device.id not in fed:
                yield device, far.terminal == "load"


def _others(drawing: Drawing, view: Drawing, bus: Bus) -> str:
    return "; ".join(
        f"{named(drawing, d.id)} {_device(d.trip_a, d.poles, 'feeder')}{' (feeds this bus)' if feeds else ''}"
        for d, feeds in _devices(view, bus)
        if d.space is None
    )


def _spaces(drawing: Drawing, view: Drawing, bus: Bus) -> dict[int, Space]:
    out: dict[int, Space] = {}
    for circuit in sorted(bus.circuits, key=lambda c: c.space):
        numbers = circuit_spaces(circuit)
        text, strong = _circuit_words(drawing, circuit)
        _put(out, Space(numbers[0], text, _device(circuit.trip_a, circuit.poles, circuit.use), strong))
        for n in numbers[1:]:
            _put(out, Space(n, f"with {numbers[0]}"))
    for device, _feeds in _devices(view, bus):
        if device.space is not None:
            _put(out, Space(device.space, named(drawing, device.id), _device(device.trip_a, device.poles, "feeder")))
            for k in range(1, device.poles or 1):
                _put(out, Space(device.space + 2 * k, f"with {device.space}"))
    return out


def _put(spaces: dict[int, Space], space: Space) -> None:
    """Two entries for one space are both printed: someone has to look."""
    before = spaces.get(space.number)
    if before is None:
        spaces[space.number] = space
    else:
        spaces[space.number] = Space(space.number, f"{before.text} / {space.text} (entered twice)", before.device, True)


def _device(trip_a: float | None, poles: int | None, use: str) -> str:
    if use == "space":
        return ""
    return f"{UNKNOWN if trip_a is None else f'{trip_a:g}'}/{UNKNOWN if poles is None else poles}"


def _circuit_words(drawing: Drawing, circuit: Circuit) -> tuple[str, bool]:
    letter = "" if circuit.status == "existing" else f" ({STATUS_LETTERS[circuit.status]})"
    if circuit.use in ("spare", "space"):
        return circuit.use.upper() + letter, False
    words = short(circuit.description)
    if not words and circuit.feeds in drawing.items:
        words = short(drawing.name_of(str(circuit.feeds)))
    if circuit.traced == "untraced" or not words:
        return UNIDENTIFIED + letter, True
    mark = "" if circuit.traced == "traced" or circuit.status == "new" else BY_LABEL
    return words + letter + mark, False


def _heading(drawing: Drawing, result: StudyResult, bus: Bus, net: Network, feeding: Feeding) -> tuple[str, ...]:
    point = result.points.get(bus.id)
    system = (point.system if point else None) or feeding.system[net.node(bus.id)]
    facts = [f"{amps(bus.rating_a)} bus", system_words(system), short(bus.location or "")]
    return (", ".join(f for f in facts if f), fed_from(drawing, bus, net, feeding))


def fed_from(drawing: Drawing, bus: Bus, net: Network, feeding: Feeding) -> str:
    """ "Fed from: F3, breaker 200 A, in MDP, electrical room": the nearest overcurrent or switching device and its board."""
    node = net.node(bus.id)
    for branch, _up in feeding.path(node):
        if isinstance(branch.item, Disconnect | TransferSwitch):
            item = branch.item
            space = f" space {item.space}" if isinstance(item, Disconnect) and item.space else ""
            return f"Fed from: {named(drawing, item.id)}, {rating_of(item)},{space} {place_of(drawing, item)}"
    root = feeding.root[node]
    if root:
        return f"Fed from: {named(drawing, root)}, no device between"
    return "Fed from: not known"
