"""Optional ways to calculate the load of a whole service (LOAD-8): schools, new restaurants, apartment houses.

Each takes all connected load together, in place of the ordinary sums with their factors.
"""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.rules.common import Subject, computed, looked_up, quantity, section, sentences, verdict
from oneline.rules.load_dwelling import METHODS, DwellingLoads, dwelling_lines, dwelling_va
from oneline.rules.verdict import Verdict, WorkLine

#: Words of ``model.vocabulary.LOAD_CALCULATIONS`` -> citation ids of the section and of its table.
OPTIONAL = {
    "school": ("LOAD-8-school", "TABLE-school"),
    "new restaurant, all electric": ("LOAD-8-restaurant", "TABLE-restaurant"),
    "new restaurant, not all electric": ("LOAD-8-restaurant", "TABLE-restaurant"),
    "apartment house": ("LOAD-8-apartments", "TABLE-apartments"),
    "dwelling unit": ("LOAD-8-dwelling", "LOAD-8-dwelling"),
    "existing dwelling unit": ("LOAD-8-existing-dwelling", "LOAD-8-existing-dwelling"),
}
#: Fewest dwelling units of the apartment table.
_FEWEST_UNITS = 3


@dataclass(frozen=True)
class OptionalFacts:
    """What an optional calculation reads of a service.

    ``connected_va``: all connected load that it takes in, known part; ``known``: whether that is all. ``conditioned``:
    whether there is electric heating or air conditioning. ``standard_va``: the ordinary calculation. ``dwelling``: loads of
    the one dwelling unit. ``continuous_va``: continuous part of what is connected. ``three_phase``: where it is fed so.
    """

    subject: Subject
    edition: int
    method: str
    connected_va: float
    known: bool
    conditioned: bool
    area_ft2: float | None
    units: int | None
    standard_va: float
    dwelling: DwellingLoads | None = None
    continuous_va: float = 0.0
    three_phase: bool = False
    needs: tuple[str, ...] = ()


def optional_state(facts: OptionalFacts) -> tuple[str, tuple[str, ...], str]:
    """Whether the method may be used: state, what is missing, and why not."""
    name = facts.subject.name
    if facts.method == "school":
        if facts.area_ft2 is None or facts.area_ft2 <= 0:
            return "unknown", (f"floor area that {name} serves",), ""
        if not facts.conditioned:
            return "fail", (), "the school has neither electric heating nor air conditioning"
    if facts.method == "apartment house":
        if facts.units is None:
            return "unknown", (f"number of dwelling units of {name}",), ""
        if facts.units < _FEWEST_UNITS:
            return "fail", (), f"it takes {_FEWEST_UNITS} dwelling units or more, and there are {facts.units}"
    if facts.method in METHODS:
        if facts.units is not None and facts.units > 1:
            return "fail", (), f"it is for one dwelling unit, and there are {facts.units}"
        if facts.three_phase:
            return "fail", (), "it is for a single-phase three-wire feeder or service"
        if facts.area_ft2 is None or facts.area_ft2 <= 0:
            return "unknown", (f"floor area that {name} serves",), ""
    return "pass", (), ""


def optional_va(facts: OptionalFacts) -> float | None:
    """Demand by the chosen method, VA; of the known load where not all is known. ``None`` where it may not be used."""
    if optional_state(facts)[0] != "pass":
        return None
    if facts.method == "school":
        assert facts.area_ft2 is not None
        return tables.school_demand_va(facts.connected_va, facts.area_ft2)
    if facts.method == "apartment house":
        assert facts.units is not None
        return tables.apartment_demand_factor(facts.units) * facts.connected_va
    if facts.dwelling is not None:
        return dwelling_va(facts.dwelling, facts.method, facts.edition)
    return tables.restaurant_demand_va(facts.connected_va, facts.method == "new restaurant, all electric")


def optional_lines(facts: OptionalFacts) -> tuple[WorkLine, ...]:
    """Worksheet of an optional calculation."""
    rule, table = OPTIONAL[facts.method]
    lines = [looked_up("All connected load", facts.connected_va, "VA")]
    if facts.method == "school" and facts.area_ft2:
        lines.append(looked_up("Connected load per square foot", facts.connected_va / facts.area_ft2, "VA/ft2"))
    if facts.units is not None and facts.method == "apartment house":
        lines.append(looked_up("Dwelling units", float(facts.units), ""))
    found = optional_va(facts)
    if found is not None and facts.dwelling is not None:
        lines = list(dwelling_lines(facts.dwelling, facts.method, section(rule, facts.edition), facts.edition))
    elif found is not None:
        lines.append(looked_up("Demand", found, "VA", section(table, facts.edition)))
    if found is not None and _raised_words(facts, found):
        lines.append(raised_line(facts, found))
    lines.append(looked_up("By the standard calculation", facts.standard_va, "VA", section("LOAD-2", facts.edition)))
    return tuple(lines) if rule else ()


def optional_calculation(facts: OptionalFacts) -> Verdict:
    """LOAD-8: what the optional calculation comes to, and whether it may be used."""
    name = facts.subject.name
    rule, _ = OPTIONAL[facts.method]
    state, needs, why = optional_state(facts)
    what = f"The optional calculation ({facts.method}) for {name}"
    checks: tuple[str, ...] = ()
    if state == "fail":
        message = f"{what} may not be used: {why}. The standard calculation counts."
    elif state == "unknown":
        message = f"{what} is not known yet. The standard calculation counts meanwhile."
    else:
        demand = optional_va(facts)
        assert demand is not None
        least = "" if facts.known else "at least "
        standard = quantity(facts.standard_va / 1000, "kVA")
        message = sentences(
            f"{what} gives {least}{quantity(demand / 1000, 'kVA')}, the standard one {least}{standard}.",
            "The optional one counts.",
            _raised_words(facts, demand),
        )
        if not facts.known:
            state, needs = "unknown", facts.needs
        checks = _checks(facts)
    return verdict(
        "LOAD-8", facts.subject, facts.edition, state, message, section=section(rule, facts.edition), needs=needs,
        remedy="Choose the standard calculation for this service." if state == "fail" else "", field_checks=checks,
        work=lambda: optional_lines(facts),
    )  # fmt: skip


def raised_line(facts: OptionalFacts, demand_va: float) -> WorkLine:
    """The demand with its continuous part at 125 %, that part taken as it shares in what is connected."""
    return computed(
        "With the continuous part raised", "demand + (factor - 1) * demand * continuous / connected", "VA",
        section("AMP-CONT", facts.edition), demand=demand_va, factor=tables.limit_value("continuous_factor"),
        continuous=facts.continuous_va, connected=facts.connected_va,
    )  # fmt: skip


def _raised_words(facts: OptionalFacts, demand_va: float) -> str:
    """What it would be if the authority wants continuous load raised on top; "" without continuous load."""
    if facts.dwelling is not None or not facts.continuous_va or not facts.connected_va:
        return ""
    raised = raised_line(facts, demand_va).value
    assert isinstance(raised, float)
    return (
        "Continuous load is not raised on top of it; an authority that wants it raised gets "
        f"{quantity(raised / 1000, 'kVA')}."
    )


def _checks(facts: OptionalFacts) -> tuple[str, ...]:
    name = facts.subject.name
    if facts.method == "apartment house":
        return (
            f"Each dwelling unit behind {name}: one feeder, electric cooking, electric heating or air conditioning.",
        )
    if facts.method in METHODS:
        least = quantity(tables.limit_value("dwelling_optional_least_a"), "A")
        return (
            f"{name} is fed by three wires of {least} or more and feeds one dwelling unit.",
            f"Heating and cooling of {name}: a heat pump runs together with its supplementary heat.",
        )
    if facts.method == "school":
        return (f"All of what {name} feeds belongs to the school.",)
    return (f"{name} feeds a new restaurant and nothing else.",)
