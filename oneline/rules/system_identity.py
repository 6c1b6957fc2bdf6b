"""Which nominal system measured voltages fit (GND-9): between phases, to neutral, to ground, with a tolerance.

A system fits as long as no reading speaks against it; what was not measured speaks for nothing. Where several fit, the
measurements that would tell them apart are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import sqrt

from oneline import tables
from oneline.model.vocabulary import SYSTEMS
from oneline.rules.common import Subject, listed, looked_up, number, unique, verdict
from oneline.rules.verdict import Verdict, WorkLine

#: Readings, each with the two conductors it is between.
PAIRS = {
    "ab_v": ("A", "B"), "bc_v": ("B", "C"), "ca_v": ("C", "A"), "an_v": ("A", "N"), "bn_v": ("B", "N"), "cn_v": ("C", "N"),
    "ag_v": ("A", "G"), "bg_v": ("B", "G"), "cg_v": ("C", "G"), "ng_v": ("N", "G"),
}  # fmt: skip
_PHASE_PAIRS = ("ab_v", "bc_v", "ca_v")
_TO_NEUTRAL = ("an_v", "bn_v", "cn_v")
_TO_GROUND = ("ag_v", "bg_v", "cg_v")
_NAMES = {"N": "neutral", "G": "ground"}


@dataclass(frozen=True)
class Fit:
    """A system that the readings fit. ``high_leg``: phase of the high leg; ``grounded``: phase at the ground, on
    corner-grounded systems."""

    code: str
    high_leg: str = ""
    grounded: str = ""

    @property
    def words(self) -> str:
        """ "240/120 V 3-phase 4-wire delta, high-leg, with the high leg on B"."""
        title = tables.system(self.code).title
        if self.high_leg:
            return f"{title}, with the high leg on {self.high_leg}"
        return f"{title}, with {self.grounded} grounded" if self.grounded else title


@dataclass(frozen=True)
class Identity:
    """What readings say. ``fits``: systems they fit; ``settle``: measurements that would tell those apart; ``trouble``: "open
    neutral", "phase grounded" (on an ungrounded system) or "". ``phase``: the phase that is grounded then."""

    fits: tuple[Fit, ...] = ()
    settle: tuple[str, ...] = ()
    trouble: str = ""
    phase: str = ""

    @property
    def codes(self) -> tuple[str, ...]:
        return unique(f.code for f in self.fits)


@dataclass(frozen=True)
class _Expected:
    """What a hypothesis expects: shares of the line-to-line voltage by reading. A reading that is absent from ``shares`` can
    be anything; one in ``none`` does not exist on the system."""

    fit: Fit
    shares: Mapping[str, float]
    none: tuple[str, ...] = ()
    floating: bool = field(default=False)


def reading_words(name: str) -> str:
    """ "A to B", "A to neutral"."""
    one, other = PAIRS[name]
    return f"{_NAMES.get(one, one)} to {_NAMES.get(other, other)}"


# ---------------------------------------------------------------------------------------------------- hypotheses
def _hypotheses() -> Iterator[_Expected]:
    for code in SYSTEMS:
        system = tables.system(code)
        if system.phases == 3:
            yield from _three_phase(code, system)
        elif system.wires == 2:
            to = {"an_v": 1.0, "ag_v": 1.0, "ng_v": 0.0}
            yield _Expected(Fit(code), to, ("ab_v", "bc_v", "ca_v", "bn_v", "cn_v", "bg_v", "cg_v"))
        else:
            share = (system.v_ln or 0.0) / system.v_ll
            to = {"ab_v": 1.0, "an_v": share, "bn_v": share, "ag_v": share, "bg_v": share, "ng_v": 0.0}
            yield _Expected(Fit(code), to, ("bc_v", "ca_v", "cn_v", "cg_v"))


def _three_phase(code: str, system: tables.System) -> Iterator[_Expected]:
    across = dict.fromkeys(_PHASE_PAIRS, 1.0)
    if system.grounding == "neutral":
        share = 1 / sqrt(3)
        to = dict.fromkeys((*_TO_NEUTRAL, *_TO_GROUND), share)
        yield _Expected(Fit(code), {**across, **to, "ng_v": 0.0})
    elif system.grounding == "midpoint":
        for leg in "ABC":
            to = {f"{p.lower()}{x}_v": (sqrt(3) / 2 if p == leg else 1 / 2) for p in "ABC" for x in "ng"}
            yield _Expected(Fit(code, high_leg=leg), {**across, **to, "ng_v": 0.0})
    elif system.grounding == "corner":
        for corner in "ABC":
            to = {f"{p.lower()}g_v": (0.0 if p == corner else 1.0) for p in "ABC"}
            yield _Expected(Fit(code, grounded=corner), {**across, **to}, (*_TO_NEUTRAL, "ng_v"))
    else:
        yield _Expected(Fit(code), across, (*_TO_NEUTRAL, "ng_v"), floating=True)


# ------------------------------------------------------------------------------------------------------- fitting
def identify(volts: Mapping[str, float | None]) -> Identity:
    """The systems that readings fit; ``volts`` by the names of :data:`PAIRS`, ``None`` or absent where not measured."""
    known = {name: v for name, v in volts.items() if name in PAIRS and v is not None}
    if not known or not any(v > 0 for v in known.values()):
        return Identity()
    hypotheses = list(_hypotheses())
    fitting = [h for h in hypotheses if _fits(h, known)]
    if not fitting:
        # Right between the phases and wrong to the neutral: the neutral is somewhere else.
        plain = {k: v for k, v in known.items() if k not in (*_TO_NEUTRAL, "ng_v")}
        shifted = [h for h in hypotheses if _has_neutral(h) and plain and _fits(h, plain)]
        if shifted and any(k in known for k in _TO_NEUTRAL) and any(k in known for k in _PHASE_PAIRS):
            return Identity(tuple(h.fit for h in shifted), trouble="open neutral")
        return Identity()
    grounded = [h for h in fitting if h.floating]
    phase = _grounded_phase(known)
    trouble = "phase grounded" if phase and len(grounded) == len(fitting) else ""
    return Identity(tuple(h.fit for h in fitting), _settling(fitting, known), trouble, phase if grounded else "")


def _has_neutral(hypothesis: _Expected) -> bool:
    return tables.system(hypothesis.fit.code).has_neutral


def _share(id_: str) -> float:
    return tables.limit_value(id_) / 100


def _fits(hypothesis: _Expected, known: Mapping[str, float]) -> bool:
    nominal = tables.system(hypothesis.fit.code).v_ll
    zero, off, apart = _share("voltage_zero_pct"), _share("voltage_tolerance_pct"), _share("voltage_balance_pct")
    if any(known.get(name, 0.0) > zero * nominal for name in hypothesis.none):
        return False
    # The line voltage as measured: of every reading that says something of it.
    says = [known[name] / share for name, share in hypothesis.shares.items() if name in known and share > 0]
    if says:
        base = sorted(says)[len(says) // 2]
        if abs(base - nominal) > off * nominal or any(abs(v - base) > apart * base for v in says):
            return False
    elif not hypothesis.floating:
        return False
    base = sorted(says)[len(says) // 2] if says else nominal
    if any(known[n] > zero * base for n, share in hypothesis.shares.items() if n in known and share == 0):
        return False
    if not hypothesis.floating:
        return True
    return _can_float([known[name] for name in _TO_GROUND if name in known], base, off)


def _can_float(to_ground: list[float], base: float, off: float) -> bool:
    """Whether readings to ground can be those of a system without a ground: no more than the line voltage, and any two of
    them together at least that, because the third side of a triangle is never longer than the other two."""
    slack = off * base
    if any(v > base + slack for v in to_ground):
        return False
    return all(a + b >= base - slack for i, a in enumerate(to_ground) for b in to_ground[i + 1 :])


def _grounded_phase(known: Mapping[str, float]) -> str:
    """The phase that reads nothing to ground while others read the line voltage, or "" for none."""
    to = {PAIRS[name][0]: known[name] for name in _TO_GROUND if name in known}
    top = max(to.values(), default=0.0)
    low = [p for p, v in to.items() if v <= _share("voltage_zero_pct") * top]
    return low[0] if len(low) == 1 and len(to) > 1 else ""


# ------------------------------------------------------------------------------------------------------ settling
def _settling(fitting: list[_Expected], known: Mapping[str, float]) -> tuple[str, ...]:
    """What to measure so that fewer systems fit: each still unmeasured reading that some of them would differ in."""
    if len(fitting) < 2:
        return ()
    found: list[str] = []
    left = list(fitting)
    for name in PAIRS:
        if name in known:
            continue
        said = {_said(h, name) for h in left}
        if len(said) > 1:
            found.append(f"{reading_words(name)}, live")
            left = _hardest(left, name)
            if len(left) < 2:
                return tuple(found)
    floating = [h for h in left if h.floating]
    if floating and len(floating) < len(left):
        found.append(
            "whether the source is grounded: look for its bonding jumper, and read a low-impedance meter to ground"
        )
    elif not found:
        found.append("the nameplate of the source, because the voltage lies between two nominal ones")
    return tuple(found)


def _said(hypothesis: _Expected, name: str) -> str:
    """What a hypothesis says of a reading, coarsely: two that say the same cannot be told apart by it."""
    if name in hypothesis.none:
        return "none"
    share = hypothesis.shares.get(name)
    nominal = tables.system(hypothesis.fit.code).v_ll
    return "anything" if share is None else f"{round(share * nominal / 10)}"


def _hardest(left: list[_Expected], name: str) -> list[_Expected]:
    """The largest group that a reading would leave together."""
    groups: dict[str, list[_Expected]] = {}
    for hypothesis in left:
        groups.setdefault(_said(hypothesis, name), []).append(hypothesis)
    return max(groups.values(), key=len)


# ------------------------------------------------------------------------------------------------------- verdicts
def measured_system(
    subject: Subject, edition: int, entered: str | None, when: str, volts: Mapping[str, float | None], source: str = ""
) -> Verdict | None:
    """GND-9: whether the system entered for a place agrees with the voltages measured there. ``entered``: its code;
    ``source``: name of the item that tells it. ``None`` where nothing was measured."""
    known = {k: v for k, v in volts.items() if k in PAIRS and v is not None}
    if not known:
        return None
    name, found = subject.name, identify(volts)
    lines = _lines(known, found)
    read = f"The voltages measured at {name}{f' on {when}' if when else ''}"
    told = f"The system entered for {source or name}, {tables.system(entered).title}," if entered else ""
    more = {"work": lines}
    if found.trouble == "open neutral":
        text = (
            f"{read} are right between the phases and unequal to the neutral: the neutral may be open. Stop work there."
        )
        remedy = "Find and repair the neutral before anything else is switched on; loads see more than their voltage."
        return verdict("GND-9", subject, edition, "fail", text, remedy=remedy, **more)
    if not found.fits:
        text = f"{read} fit no nominal system. Measure again, live, with a meter proved before and after."
        return verdict(
            "GND-9", subject, edition, "unknown", text, needs=(f"all voltages at {name}, measured again",), **more
        )
    words = listed(unique(f.words for f in found.fits), "or")
    if entered is not None and entered not in found.codes:
        text = f"{told} does not fit the voltages measured at {name}: they fit {words}."
        remedy = "Correct the system, or measure again, live, with a meter proved before and after."
        return verdict("GND-9", subject, edition, "fail", text, remedy=remedy, **more)
    needs = tuple(f"{settle}, at {name}" for settle in found.settle)
    if entered is None:
        text = f"{read} fit {words}."
        state = "unknown" if len(found.codes) > 1 else "advice"
        if state == "advice":
            text = f"{text} No system is entered."
        return verdict("GND-9", subject, edition, state, text, needs=needs or (f"system of {name}",), **more)
    if _two_legs_only(entered, known):
        text = f"{told} fits the voltages measured at {name}."
        check = f"There is no third phase at {name}: two legs of a three-phase system read the same."
        return verdict("GND-9", subject, edition, "pass", text, field_checks=(check,), **more)
    if len(found.fits) > 1:
        text = f"{told} fits the voltages measured at {name}, but they do not settle it: they fit {words}."
        return verdict("GND-9", subject, edition, "unknown", text, needs=needs or (f"system of {name}",), **more)
    fit = found.fits[0]
    where = (
        f", with the high leg on {fit.high_leg}"
        if fit.high_leg
        else f", with {fit.grounded} grounded"
        if fit.grounded
        else ""
    )
    text = f"{told} fits the voltages measured at {name}{where}."
    return verdict("GND-9", subject, edition, "pass", text, **more)


def _two_legs_only(entered: str, known: Mapping[str, float]) -> bool:
    """Whether a single-phase three-wire system is entered, and all of its voltages to the neutral and across are measured."""
    system = tables.system(entered)
    return system.phases == 1 and system.wires > 2 and {"ab_v", "an_v", "bn_v"} <= set(known)


def _lines(known: Mapping[str, float], found: Identity) -> tuple[WorkLine, ...]:
    off = tables.limit("voltage_tolerance_pct")
    rows = [looked_up(reading_words(k), float(v), "V", "measured") for k, v in known.items()]
    rows.append(looked_up("From a nominal voltage at most", off.value, "%", off.section))
    rows += [looked_up("Fits", f.words, "") for f in found.fits]
    return tuple(rows)


def volts_text(volts: Mapping[str, float | None]) -> str:
    """ "A to B 208 V, A to neutral 120 V"."""
    return ", ".join(f"{reading_words(k)} {number(v)} V" for k, v in volts.items() if k in PAIRS and v is not None)
