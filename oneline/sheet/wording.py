"""What the sheet writes beside things: names, ratings, figures, conductors. Short, in the words of the trade.

A line is made of pieces, so that an unknown value stands as a long dash with a small open ring and an assumed one in
italics, wherever it occurs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from oneline.model import (
    Battery,
    Bus,
    ConductorRun,
    Disconnect,
    Generator,
    Item,
    Load,
    Meter,
    SolarArray,
    SuspectedTie,
    TransferSwitch,
    Transformer,
    UtilityService,
)
from oneline.model.vocabulary import STATUS_LETTERS
from oneline.sheet.metrics import text_width
from oneline.study import PointFigures
from oneline.units import between, format_value, rounded_up

NAME_SIZE = 9.0
LINE_SIZE = 8.0
DETAIL_SIZE = 6.0
#: Baseline to baseline.
LINE_PITCH = 10.0
DETAIL_PITCH = 7.5
#: Kinds that carry live figures at every zoom.
_FIGURES_ON = (Bus, Transformer, UtilityService, Load)
#: A name wider than this takes two lines.
NAME_WIDTH = 92.0
#: Length and raceway share a line up to this width: the labels of conductors decide how close columns can stand.
RUN_WIDTH = 56.0
#: An unknown value: the dash, and the room its ring takes behind it in em.
DASH = "—"
RING_EM = 0.5


_RACEWAY_WORDS = {"within enclosure": "in enclosure", "open": "open wiring"}


@dataclass(frozen=True)
class Piece:
    """Part of a line in one face and ink; ``unknown`` draws the dash with its ring and ignores the text."""

    text: str
    face: str = "regular"
    ink: str = "ink"
    unknown: bool = False


@dataclass(frozen=True)
class Line:
    """One line of a label."""

    pieces: tuple[Piece, ...]
    size: float = LINE_SIZE

    @property
    def width(self) -> float:
        return sum(piece_width(p, self.size) for p in self.pieces)

    @property
    def text(self) -> str:
        """The line in plain characters."""
        return "".join(DASH if p.unknown else p.text for p in self.pieces)


UNKNOWN = Piece(DASH, "regular", "unknown", True)


def piece_width(piece: Piece, size: float) -> float:
    """Width of a piece in grid units, with the ring of an unknown value."""
    extra = RING_EM * size if piece.unknown else 0.0
    return text_width(DASH if piece.unknown else piece.text, size, piece.face) + extra


# ------------------------------------------------------------------------------------------------------ numbers
def amperes(value: float) -> str:
    """A computed current: no decimals from 100 up, one below."""
    return f"{value:,.0f} A" if abs(value) >= 99.95 else f"{value:.1f} A"


def kiloamperes(value_a: float) -> str:
    """A fault current given in amperes, in kA with one decimal."""
    return f"{value_a / 1000:.1f} kA"


def kiloamperes_between(least_a: float | None, most_a: float | None) -> str:
    """The same for what is not known but bounded: "17.1–27.9 kA", "≤ 27.9 kA"."""
    low, high = (None if a is None else a / 1000 for a in (least_a, most_a))
    return between(low, high, "fault_ka")


def feet_inches(length_ft: float) -> str:
    """A length as the trade writes it: 12.333 -> "12 ft 4 in"."""
    return format_value(length_ft, "length_ft")


def size_text(size: str) -> str:
    """A conductor size with its unit: "#4", "3/0", "250 kcmil"."""
    if "/" in size:
        return size
    return f"#{size}" if size.isdigit() and int(size) < 100 else f"{size} kcmil"


# --------------------------------------------------------------------------------------------------------- labels
def name_lines(name: str, status: str) -> tuple[Line, ...]:
    """The bold first line, or two where the name is long; (N), (R), (F) behind the name of what is not existing."""
    letter = [] if status == "existing" else [Piece(f" ({STATUS_LETTERS[status]})", "regular")]
    upper, lower = _halves(name)
    if not lower:
        return (Line((Piece(name, "bold"), *letter), NAME_SIZE),)
    return (Line((Piece(upper, "bold"),), NAME_SIZE), Line((Piece(lower, "bold"), *letter), NAME_SIZE))


def _halves(name: str) -> tuple[str, str]:
    """A name that is wider than a column as two parts, broken between words where the wider part is narrowest."""
    words = name.split(" ")
    if text_width(name, NAME_SIZE, "bold") <= NAME_WIDTH or len(words) < 2:
        return name, ""
    breaks = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return min(breaks, key=lambda b: max(text_width(part, NAME_SIZE, "bold") for part in b))


def _value(item: Item, field: str, template: str, scale: float = 1.0) -> list[Piece]:
    """``template`` with the field's value for {}: unknown with the ring, assumed in italics."""
    value = getattr(item, field)
    before, after = template.split("{}")
    if value is None:
        return [p for p in (Piece(before), UNKNOWN, Piece(after)) if p.unknown or p.text]
    shown = f"{value * scale:g}" if isinstance(value, int | float) else str(value)
    if item.basis.get(field) == "assumed":
        return [Piece(f"{before}{shown}{after}", "italic", "assumed")]
    return [Piece(f"{before}{shown}{after}")]


def _join(*parts: list[Piece], between: str = ", ") -> list[Piece]:
    out: list[Piece] = []
    for part in parts:
        if part:
            if out:
                out.append(Piece(between))
            out.extend(part)
    return out


def rating_line(item: Item) -> Line | None:
    """The line below the name: the ratings one looks for first on this kind of thing."""
    pieces = _rating(item)
    return Line(_merged(pieces)) if pieces else None


def _rating(item: Item) -> list[Piece]:
    if isinstance(item, UtilityService):
        fault = _value(item, "fault_ka", "{} kA") if item.fault_ka is not None else []
        kva = _value(item, "transformer_kva", "{} kVA") if item.transformer_kva is not None else []
        return _join(_value(item, "system", "{}"), fault or kva or [UNKNOWN, Piece(" kA")])
    if isinstance(item, Generator):
        return _join(_value(item, "kva", "{} kVA"), _value(item, "system", "{}"))
    if isinstance(item, SolarArray | Battery):
        power = _value(item, "output_kw", "{} kW") if item.output_kw is not None else []
        return _join(power, _value(item, "output_a", "{} A"))
    if isinstance(item, Transformer):
        return _join(_value(item, "kva", "{} kVA"), _value(item, "z_pct", "{} %Z"))
    if isinstance(item, Disconnect):
        return _disconnect(item)
    if isinstance(item, TransferSwitch):
        word = {True: "automatic", False: "manual", None: ""}[item.automatic]
        return _join(_value(item, "rating_a", "{} A"), [Piece(word)] if word else [])
    if isinstance(item, Meter):
        number = [Piece(f"No. {item.number}")] if item.number else []
        return _join(number, [Piece(f"CT {item.ct_ratio}")] if item.ct_ratio else [])
    if isinstance(item, Bus):
        if item.form in ("gutter", "splice box"):
            return _value(item, "rating_a", "{} A") if item.rating_a is not None else []
        return _join(_value(item, "rating_a", "{} A"), _value(item, "sccr_ka", "{} kA"))
    if isinstance(item, Load):
        if item.horsepower is not None:
            return _value(item, "horsepower", "{} hp")
        if item.va is None and item.mca_a is not None:
            return _value(item, "mca_a", "MCA {} A")
        return _value(item, "va", "{} kVA", 0.001)
    return []


def _disconnect(item: Disconnect) -> list[Piece]:
    poles = f"/{item.poles}P" if item.poles else ""
    if item.form == "switch":
        return _value(item, "rating_a", "{} A" + poles)
    if item.form == "breaker":
        return _join(_value(item, "trip_a", "{} A" + poles), _value(item, "interrupting_ka", "{} kA"))
    ratio = item.rating_a is not None and item.form == "fused switch" and item.rating_a != item.trip_a
    amps = _value(item, "trip_a", "{} A fuse")
    if ratio:
        amps = _join(_value(item, "rating_a", "{}"), amps, between="/")
    return _join(amps, _value(item, "interrupting_ka", "{} kA"))


def position_word(item: Item) -> str:
    """How a device stands when that is not its usual position, else ""."""
    if isinstance(item, Disconnect) and not item.closed:
        return "pulled" if item.form == "fuses" else "open"
    if isinstance(item, Disconnect) and item.normally_open:
        return "closed, normally open"
    if isinstance(item, TransferSwitch) and item.position != "normal":
        return "off" if item.position == "off" else "on alternate"
    return ""


def figures_lines(item: Item, point: PointFigures | None, wide: bool) -> tuple[Line, ...]:
    """Live figures of an item: the load of its heaviest phase and, at buses and sources, what may still be added.

    ``wide``: there is room for both on one line. Devices show their load only when zoomed in (``detail_line``), because
    what they feed shows it; a device that does not stand as usual says so here.
    """
    word = position_word(item)
    if word:
        return (Line((Piece(word, "bold"),)),)
    if point is None or not point.phases or not isinstance(item, _FIGURES_ON):
        return ()
    if isinstance(item, Load):
        return (Line(_merged(_number(_heaviest(point.load_a)))),)
    load, counted, free = _number(_heaviest(point.load_a)), _counted(point), _free(item, point)
    if wide and not counted:
        return (Line(_merged([*load, Piece(" · "), *free])),)
    if wide:
        return (Line(_merged([*load, Piece(", "), *counted])), Line(_merged(free)))
    return tuple(Line(_merged(p)) for p in (load, counted, free) if p)


def _counted(point: PointFigures) -> list[Piece]:
    """What the load counts against ratings, where that is more: continuous load takes 125 % of its current there, and
    what is free is the rest of that figure, not of the load."""
    load, counted = _heaviest(point.load_a), _heaviest(point.counted_a)
    if load is None or counted is None or amperes(load) == amperes(counted):
        return []
    return [Piece(f"counts {amperes(counted)}")]


def figures_room(item: Item, wide: bool) -> tuple[float, int]:
    """Width and lines kept free for the figures, so that places do not depend on them."""
    if not isinstance(item, _FIGURES_ON):
        return 0.0, 0
    if isinstance(item, Load):
        return text_width("000 A", LINE_SIZE), 1
    return (text_width("000 A, counts 000 A", LINE_SIZE), 2) if wide else (text_width("counts 000 A", LINE_SIZE), 3)


def detail_line(item: Item, point: PointFigures | None) -> Line | None:
    """Small line shown when zoomed in: load of a device, fault current and voltage drop."""
    if point is None or not isinstance(item, Bus | Disconnect | Transformer | TransferSwitch):
        return None
    parts: list[list[Piece]] = []
    load = _heaviest(point.load_a)
    if not isinstance(item, Bus) and load is not None:
        parts.append([Piece(amperes(load), ink="faint")])
    if point.fault_duty_a is not None:
        parts.append([Piece("fault " + kiloamperes(point.fault_duty_a), ink="faint")])
    elif point.fault_bound_a is not None:
        parts.append([Piece("fault " + kiloamperes_between(point.fault_least_a, point.fault_bound_a), ink="faint")])
    if point.voltage_drop_pct is not None and isinstance(item, Bus):
        parts.append([Piece(f"drop {point.voltage_drop_pct:.1f} %", ink="faint")])
    return Line(_merged(_join(*parts)), DETAIL_SIZE) if parts else None


def _heaviest(values: Mapping[str, float | None]) -> float | None:
    known = [v for v in values.values() if v is not None]
    return max(known) if known and len(known) == len(values) else None


def _number(value: float | None) -> list[Piece]:
    return [UNKNOWN, Piece(" A")] if value is None else [Piece(amperes(value))]


def _free(item: Item, point: PointFigures) -> list[Piece]:
    values = list(point.available_a.values())
    if values and all(v is not None for v in values):
        least = min(v for v in values if v is not None)
        return [Piece(f"{amperes(-least)} over", "bold")] if least < 0 else [Piece(f"{amperes(least)} free")]
    bounds = [v for v in point.available_bound_a.values() if v is not None]
    if bounds:
        return [Piece(f"≤ {amperes(rounded_up(max(0.0, min(bounds)), 'current_a'))} free")]
    if isinstance(item, UtilityService):  # nothing drawn limits it
        return [Piece("free: ask the utility")]
    return [UNKNOWN, Piece(" A free")]


def run_lines(run: ConductorRun) -> tuple[Line, ...]:
    """Short lines for conductors: "2 × 3/0 Cu", "12 ft 4 in" and "EMT 2", the last two on one line where they are short."""
    sets = f"{run.sets} × " if run.sets and run.sets > 1 else ""
    first: list[Piece]
    metal = {"copper": " Cu", "aluminum": " Al", None: ""}[run.material]
    italic = "assumed" in (run.basis.get("size"), run.basis.get("material"), run.basis.get("sets"))
    if run.size is None:
        first = [Piece(sets), UNKNOWN, Piece(metal)]
    else:
        text = sets + size_text(run.size) + metal
        first = [Piece(text, "italic", "assumed")] if italic else [Piece(text)]
    if run.sets is None:
        first = [UNKNOWN, Piece(" × "), *first]
    second = [UNKNOWN, Piece(" ft")] if run.length_ft is None else [_length(run)]
    if run.status != "existing":
        first.append(Piece(f" ({STATUS_LETTERS[run.status]})"))
    raceway = " ".join(t for t in (_RACEWAY_WORDS.get(run.raceway or "", run.raceway), run.raceway_size) if t)
    if raceway and (joined := Line(_merged([*second, Piece(f", {raceway}")]))).width <= RUN_WIDTH:
        return (Line(_merged(first)), joined)
    third = (Line((Piece(raceway),)),) if raceway else ()
    return (Line(_merged(first)), Line(_merged(second)), *third)


def _length(run: ConductorRun) -> Piece:
    assert run.length_ft is not None
    if run.basis.get("length_ft") == "assumed":
        return Piece(feet_inches(run.length_ft), "italic", "assumed")
    return Piece(feet_inches(run.length_ft))


def tie_lines(tie: SuspectedTie) -> tuple[Line, ...]:
    """Label of a connection nobody traced."""
    words = {"untraced": "not traced", "labeled only": "by its label only", "traced": "traced"}.get(
        tie.traced or "", ""
    )
    name = (Line((Piece(tie.name, "bold"),), NAME_SIZE),) if tie.name else ()
    return (*name, Line((Piece(f"Suspected tie, {words}" if words else "Suspected tie", ink="possible"),)))


def _merged(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Neighbours of the same look as one piece: fewer primitives to paint."""
    out: list[Piece] = []
    for p in pieces:
        if out and not p.unknown and not out[-1].unknown and (out[-1].face, out[-1].ink) == (p.face, p.ink):
            out[-1] = Piece(out[-1].text + p.text, p.face, p.ink)
        elif p.unknown or p.text:
            out.append(p)
    return tuple(out)


def item_lines(item: Item, point: PointFigures | None = None, wide: bool = True) -> tuple[Line, ...]:
    """Name, rating and figures of an item: those that there are."""
    lines = list(name_lines(item.name, item.status)) if item.name or item.status != "existing" else []
    rating = rating_line(item)
    if rating is not None:
        lines.append(rating)
    return (*lines, *figures_lines(item, point, wide))
