"""Sources of energy: utility service, generator, solar array, battery."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from oneline.model.fields import LOAD_GROUP, fact
from oneline.model.records import DemandRecord, Item
from oneline.model.vocabulary import LOAD_CALCULATIONS, OCCUPANCIES, PHASE_SETS, SERVICE_REASONS, SYSTEMS


@dataclass(frozen=True, kw_only=True)
class UtilityService(Item):
    kind: ClassVar[str] = "service"
    title: ClassVar[str] = "Utility service"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    system: str | None = fact("System", "choice", choices=SYSTEMS, help="Measure all voltage pairs if not marked.")
    fault_ka: float | None = fact(
        "Available fault current", "fault_ka", help="Given by the utility at the service point.", group="Fault current"
    )
    fault_x_r: float | None = fact("X/R at the service point", "ratio", high=100, group="Fault current")
    transformer_kva: float | None = fact(
        "Utility transformer",
        "power_kva",
        low=1,
        help="On the transformer's nameplate, or from the utility's letter.",
        group="Fault current",
    )
    transformer_z_pct: float | None = fact("Transformer impedance", "percent", low=0.1, group="Fault current")
    transformer_x_r: float | None = fact("Transformer X/R", "ratio", high=100, group="Fault current")
    primary_fault_mva: float | None = fact("Primary fault power (MVA)", "ratio", high=100_000, group="Fault current")
    meter: str | None = fact("Meter number", "text", group="Identity")
    reason: str | None = fact(
        "Reason beside another service", "choice", choices=SERVICE_REASONS, group="Identity",
        help="Only where the building has more than one service.",
    )  # fmt: skip
    load_calculation: str | None = fact(
        "Load calculation", "choice", choices=LOAD_CALCULATIONS, group=LOAD_GROUP,
        help="Standard unless an optional one for the whole service is chosen.",
    )  # fmt: skip
    area_ft2: float | None = fact(
        "Floor area it serves (ft²)", "ratio", high=10_000_000, group=LOAD_GROUP, help="Outside dimensions."
    )
    occupancy: str | None = fact("Use of the area", "choice", choices=OCCUPANCIES, group=LOAD_GROUP)
    dwelling_units: int | None = fact("Dwelling units", "count", low=1, group=LOAD_GROUP, help="That it feeds.")
    demand: tuple[DemandRecord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Generator(Item):
    kind: ClassVar[str] = "generator"
    title: ClassVar[str] = "Generator"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    system: str | None = fact("System", "choice", choices=SYSTEMS)
    kva: float | None = fact("Rating", "power_kva", low=0.1)
    xd_pct: float | None = fact(
        'Subtransient reactance X"d', "percent", low=2, group="Fault current",
        help="On the data sheet: 12 %, or 0.12 pu where it is given per unit.",
    )  # fmt: skip
    neutral_bonded: bool | None = fact("Neutral bonded at the generator", "flag", group="Bonding")
    overload_prevented: bool | None = fact(
        "Cannot overload its conductors", "flag",
        help="Design or control of the generator keeps its current below the ampacity of its conductors.",
    )  # fmt: skip
    demand: tuple[DemandRecord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SolarArray(Item):
    """Array with its inverter; the drawing's terminal is the inverter's ac output."""

    kind: ClassVar[str] = "solar"
    title: ClassVar[str] = "Solar array with inverter"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    output_a: float | None = fact("Inverter continuous output", "current_a", help="Nameplate, per inverter set.")
    output_kw: float | None = fact("Inverter power", "power_kw")
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    fault_factor: float | None = fact(
        "Fault current, times rated", "ratio", high=10, help="From the maker's data.", group="Fault current"
    )
    interactive_listed: bool | None = fact(
        "Listed utility-interactive", "flag", help="Marking on the inverter: stops exporting when the utility is lost."
    )
    control_setting_a: float | None = fact(
        "Power control setting", "current_a", group="Power control",
        help="What a power control system holds its current to, at its own terminals.",
    )  # fmt: skip
    control_listed: bool | None = fact(
        "Power control listed, documented, access restricted", "flag", group="Power control"
    )
    forms_grid: bool | None = fact("Can run on its own (backup output)", "flag")
    rapid_shutdown: bool | None = fact(
        "Rapid shutdown", "flag", help="Marked at the service: what starts it and what it de-energizes."
    )


@dataclass(frozen=True, kw_only=True)
class Battery(Item):
    kind: ClassVar[str] = "battery"
    title: ClassVar[str] = "Battery"
    terminals: ClassVar[tuple[str, ...]] = ("out",)

    output_a: float | None = fact("Inverter continuous output", "current_a")
    output_kw: float | None = fact("Inverter power", "power_kw")
    energy_kwh: float | None = fact("Energy (kWh)", "ratio", high=100_000)
    phases: str | None = fact("Phases", "choice", choices=PHASE_SETS)
    fault_factor: float | None = fact("Fault current, times rated", "ratio", high=10, group="Fault current")
    interactive_listed: bool | None = fact(
        "Listed utility-interactive", "flag", help="Marking on the inverter: stops exporting when the utility is lost."
    )
    control_setting_a: float | None = fact(
        "Power control setting", "current_a", group="Power control",
        help="What a power control system holds its current to, at its own terminals.",
    )  # fmt: skip
    control_listed: bool | None = fact(
        "Power control listed, documented, access restricted", "flag", group="Power control"
    )
    forms_grid: bool | None = fact("Can run on its own (backup output)", "flag")
