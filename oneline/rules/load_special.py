"""Motors and air conditioners under 240.4(G) whose tables or nameplates leave a range; the device a nameplate asks for."""

from __future__ import annotations

from functools import lru_cache

from oneline import tables
from oneline.rules.common import Condition, Fact, Subject, computed, judged, section
from oneline.rules.load import hvac_device
from oneline.rules.overcurrent import SpecialLoad, motor_load
from oneline.rules.verdict import Verdict


def hvac_by_current(
    name: str, rated_a: float, mca_a: float | None, mocp_a: float | None, edition: int, kind: str, basis: str
) -> SpecialLoad:  # fmt: skip
    """Air-conditioning equipment by its rated-load current where the nameplate marks no minimum or no maximum (LOAD-5).

    Conductor 125 %; device 175 %, or up to 225 % where it does not start on that, both rounded down (440.22, 440.32).
    What the nameplate does mark comes first.
    """
    conductor = computed(
        "Conductor for the compressor", "factor * rated_a", "A", section("LOAD-5-conductor", edition),
        factor=tables.limit_value("hvac_conductor_factor"), rated_a=rated_a,
    )  # fmt: skip
    usual, largest = (hvac_device(rated_a, edition, kind, stuck) for stuck in (False, True))
    need = f"whether {name} starts on a smaller device"
    device_a = Fact(None, usual.value, largest.value, basis, need, "device for the compressor")
    if usual.value == largest.value:
        device_a = Fact(usual.value, basis=basis)
    lines = (*((conductor,) if mca_a is None else ()), *((*usual.lines, *largest.lines) if mocp_a is None else ()))
    return SpecialLoad(
        "hvac", name, Fact(mca_a if mca_a is not None else float(conductor.value or 0.0), basis=basis),
        device_a if mocp_a is None else Fact(mocp_a, basis=basis), "nameplate", lines,
    )  # fmt: skip


def motor_between(
    name: str, horsepower: float, steps_hp: tuple[float, float], currents_a: tuple[float, float], three_phase: bool,
    edition: int, kind: str, basis: str,
) -> SpecialLoad:  # fmt: skip
    """A motor whose rating the tables do not print: its conductor and device lie between those of the steps around it."""
    low, high = (motor_load(name, a, three_phase, edition, kind, basis) for a in currents_a)
    assumed = (between_words(name, horsepower, steps_hp),)
    need = f"full-load current on the nameplate of {name}: {horsepower:g} hp is not in the motor table"
    conductor = Fact(None, low.conductor_a.least, high.conductor_a.most, basis, need, assumed=assumed)
    device = Fact(None, low.device_a.least, high.device_a.most, basis, need, assumed=assumed)
    return SpecialLoad("motor", name, conductor, device, low.source, (*low.lines, *high.lines))


def between_words(name: str, horsepower: float, steps_hp: tuple[float, float]) -> str:
    """How a rating between the steps of the table is taken, as an assumption."""
    low, high = steps_hp
    return f"{horsepower:g} hp of {name} taken between {low:g} hp and {high:g} hp"


@lru_cache(maxsize=2048)
def device_kind_marked(load: Subject, device: Subject, marked: str, kind: str | None, edition: int) -> Verdict:
    """The kind of overcurrent device that a nameplate asks for (440.4(B), 110.3(B)).

    ``marked``: "fuse" or "fuse or breaker"; ``kind``: of the device ahead, "fuse" or "breaker", ``None`` unknown.
    """
    cited = section("LOAD-5-marking", edition)
    if kind is None:
        text = f"Whether {device.name} is what the nameplate of {load.name} asks for is not known yet: {marked}."
        found = Condition("unknown", text, needs=(f"kind of device of {device.name}",))
    elif kind in marked.split(" or "):
        found = Condition("pass", f"{device.name} is a {kind}, as the nameplate of {load.name} asks for: {marked}.")
    else:
        text = f"The nameplate of {load.name} asks for a {marked} and {device.name} is a {kind}."
        found = Condition("fail", text)
    remedy = ""
    if found.state == "fail":
        remedy = f"Protect {load.name} by fuses within the marked rating."
    return judged("LOAD-5", load, edition, [found], section=cited, remedy=remedy, others=(device.id,))
