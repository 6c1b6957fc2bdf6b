"""Which field of which item a phrase of a field-check list is about: "length of Tap 1" is ``length_ft`` of that run."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from oneline.model import Bus, Drawing, Item, specs

_WORD = re.compile(r"\w+")
#: What stands behind these names another item than the one that is meant.
_BESIDE = re.compile(r" and cuts off where | on the bus of")
_CIRCUIT = re.compile(r"\bcircuit (\d+)\b")
#: How a phrase speaks of a fact, and the fields that may hold it; the first that the item has is meant. The longer
#: phrases stand before those that they contain.
_SPOKEN: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("supply-side bonding jumper", ("ssbj_size", "bonding_jumper_size", "egc_size")),
    ("material of the grounding conductor", ("egc_material",)),
    ("equipment grounding conductor", ("egc_size",)),
    ("conductor material", ("material",)),
    ("conductor size", ("size",)),
    ("neutral size", ("neutral_size",)),
    ("in one raceway", ()),
    ("are alike", ("sets_alike",)),
    ("number of sets", ("sets",)),
    ("insulation", ("insulation",)),
    ("ambient temperature", ("ambient_c",)),
    ("current-carrying conductors", ("current_carrying",)),
    ("terminal temperature", ("terminal_c",)),
    ("sizes of all conductors in the raceway", ()),
    ("trade size", ("raceway_size",)),
    ("is outdoors", ("outdoors",)),
    ("wet location", ("wet",)),
    ("leaves the enclosure", ("leaves_enclosure",)),
    ("length of", ("length_ft",)),
    ("raceway of", ("raceway",)),
    ("highest setting of the adjustable", ("rating_a",)),
    ("can be set higher", ("adjustable",)),
    ("series combination rating", ("series_rating_ka",)),
    ("short-circuit current rating", ("sccr_ka", "withstand_ka")),
    ("withstand", ("withstand_ka",)),
    ("of the breakers in", ("breakers_ka",)),
    ("interrupting rating", ("interrupting_ka",)),
    ("voltage rating", ("voltage_rating",)),
    ("trip rating", ("trip_a",)),
    ("fuse rating", ("trip_a",)),
    ("type of the fuses", ()),
    ("bus rating", ("rating_a",)),
    ("neutral bond", ("neutral_bonded",)),
    ("neutral switched or solid", ("switched_neutral",)),
    ("is automatic", ("automatic",)),
    ("trace of", ()),
    ("place of", ("bus_end",)),
    ("fed at its end or center", ("feed_position",)),
    ("provision for taps", ("maker_tap_provision",)),
    ("barrier over the line", ("line_side_barrier",)),
    ("service equipment marking", ("service_rated",)),
    ("is the service disconnect", ("service_disconnect",)),
    ("free of foreign piping and ducts", ("dedicated_clear",)),
    ("date of the fault current marking", ("fault_marked_on",)),
    ("clear depth", ("work_depth_ft", "work_width_ft", "work_height_ft", "work_opposite", "dedicated_clear")),
    ("outdoors, nearest the entrance or elsewhere", ("stands",)),
    ("number of dwelling units", ("dwelling_units",)),
    ("have laundry circuits", ()),
    ("highest handle position", ("handle_ft", "readily_accessible", "excluded_place", "stands")),
    ("ground-fault protection", ("gfp_fitted", "gfp_pickup_a", "gfp_delay_s", "gfp_tested")),
    ("arcing energy", ("arc_reduction", "arc_reduction_tested")),
    ("cross section of the wiring space", ("wiring_space_in2", "passing_in2", "spliced_in2")),
    ("reason for the second service", ("reason",)),
    ("number of spaces", ("spaces",)),
    ("number of poles", ("poles",)),
    ("poles of", ("poles",)),
    ("directory of", ("all_listed",)),
    ("whether all circuits of", ("all_listed",)),
    ("available fault current", ("fault_ka",)),
    ("continuous output current", ("output_a",)),
    ("utility-interactive marking", ("interactive_listed",)),
    ("zero-sequence reactance", ("x0_pct",)),
    ("subtransient reactance", ("xd_pct",)),
    ("impedance (%z)", ("z_pct",)),
    ("secondary system", ("secondary_system",)),
    ("primary system", ("primary_system",)),
    ("connection of", ("connection",)),
    ("system voltage", ("system",)),
    ("system of", ("system",)),
    ("full-load current", ()),
    ("horsepower", ("horsepower",)),
    ("phases of", ("phases",)),
    ("three phases ahead", ()),
    ("switch rating", ("rating_a",)),
    ("frame", ("rating_a",)),
    ("rating of", ("kva", "trip_a", "rating_a")),
    ("neutral load", ()),
    ("load of", ("va",)),
    ("loads of", ()),
    ("is continuous", ("continuous",)),
    ("class of", ("load_class",)),
)  # fmt: skip
#: Values of a field that stand for not known.
_OPEN = (None,)
#: Phrases with a circuit's number in them are about its line in the schedule.
_OF_A_LINE: tuple[tuple[str, str], ...] = (
    ("load of", "va"), ("trip rating", "trip_a"), ("wire", "wire_size"), ("class of", "load_class"), ("trace of", "traced"),
    ("is continuous", "continuous"),
)  # fmt: skip


@dataclass(frozen=True)
class Missing:
    """A fact that is not known: ``field`` of ``item``, of the line from ``space`` on in its schedule where that is given.

    ``field`` is "" where the phrase cannot be tied to one.
    """

    item: str
    field: str = ""
    space: int | None = None

    @property
    def tied(self) -> bool:
        return bool(self.field)


class Phrases:
    """Ties phrases to fields of the items of one drawing."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._owner = Owner(drawing)
        self._known: dict[tuple[str, str], Missing] = {}

    def missing(self, phrase: str, subject: str) -> Missing:
        """What a phrase is about. ``subject``: the item of the finding, for phrases that name none."""
        key = (phrase, subject)
        if key not in self._known:
            self._known[key] = self._tie(phrase, subject)
        return self._known[key]

    def _tie(self, phrase: str, subject: str) -> Missing:
        owner = self._owner.of(_BESIDE.split(phrase)[0], subject)
        item = self._drawing.items.get(owner)
        if item is None:
            return Missing(owner)
        plain = phrase.replace(self._drawing.name_of(owner), "").lower()
        line = _CIRCUIT.search(phrase)
        if isinstance(item, Bus) and line is not None:
            space = int(line[1])
            field = next((f for words, f in _OF_A_LINE if words in plain), "")
            if field and any(c.space == space for c in item.circuits):
                return Missing(owner, field, space)
            return Missing(owner)
        return Missing(owner, _field_of(plain, item))


def _field_of(plain: str, item: Item) -> str:
    known: Mapping[str, object] = specs(type(item))
    for words, fields in _SPOKEN:
        if words in plain:
            # A fact that is there already is not what is missing.
            return next((f for f in fields if f in known and getattr(item, f) in _OPEN), "")
    return ""


class Owner:
    """Finds the item that a phrase names: the longest name on the drawing, of an item or of a circuit, that stands in it.

    Names are looked up by their words, so that a phrase costs the same on a small drawing and on a large one.
    """

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        names: dict[str, list[str]] = {}
        for item_id in drawing.items:
            names.setdefault(drawing.name_of(item_id), []).append(item_id)
        for bus in drawing.of(Bus):
            for circuit in bus.circuits:
                if len(circuit.description) > 3:
                    names.setdefault(circuit.description, []).append(bus.id)
        self._by_words: dict[tuple[str, ...], list[tuple[str, list[str]]]] = {}
        for name, ids in names.items():
            words = tuple(_WORD.findall(name))
            if words and len(name) >= 2:
                self._by_words.setdefault(words, []).append((name, ids))
        self._most_words = max((len(words) for words in self._by_words), default=0)

    def of(self, phrase: str, fallback: str) -> str:
        """Id of the item that the phrase names; ``fallback`` when it names none, or several things are called so."""
        best, found = "", [fallback]
        words = tuple(_WORD.findall(phrase))
        for start in range(len(words)):
            for end in range(start + 1, min(start + self._most_words, len(words)) + 1):
                for name, ids in self._by_words.get(words[start:end], ()):
                    if len(name) > len(best) and _stands_in(name, phrase):
                        best, found = name, ids
        if fallback in found or found[0] not in self._drawing:
            return fallback if fallback in self._drawing else ""
        return found[0]


def _stands_in(name: str, phrase: str) -> bool:
    start = phrase.find(name)
    while start >= 0:
        end = start + len(name)
        before, after = phrase[max(start - 1, 0) : start], phrase[end : end + 1]
        if not before.isalnum() and not after.isalnum() and after != "-":
            return True
        start = phrase.find(name, start + 1)
    return False
