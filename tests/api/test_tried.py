"""What is tried on copies, through the Python interface: a remedy found is applied and the drawing checked again."""

from __future__ import annotations

from math import sqrt

import pytest

import oneline


@pytest.fixture
def service() -> oneline.Builder:
    """100 A of load (36 kVA at 208 V) on 8 AWG copper (50 A at 75 degrees C, Table 310.16) behind 110 A."""
    b = oneline.Builder("Net store")
    utility = b.service("Utility", system="208Y/120", fault_ka=10)
    main = b.disconnect("Main", trip_a=400, rating_a=400, interrupting_ka=22, service_disconnect=True)
    board = b.bus("Board", form="switchboard", rating_a=400, sccr_ka=22)
    b.joint(utility, main)
    b.joint(main, board)
    with b.status("new"):
        feeder = b.disconnect("Feeder", trip_a=110, rating_a=225, interrupting_ka=22, adjustable=False)
        b.joint(board, feeder)
        panel = b.bus("Panel", rating_a=225, sccr_ka=22, neutral_bonded=False, spaces=24, phases="ABC")
        b.run(
            feeder, panel, name="Run", size="8", material="copper", insulation="THHN/THWN-2", raceway="EMT", raceway_size="2",
            ambient_c=30, wet=False, current_carrying=3, terminal_c=75, neutral_size="8", egc_size="6", egc_material="copper",
            length_ft=None,
        )  # fmt: skip
        b.circuit(
            panel,
            1,
            "Drying fans, loft",
            110,
            poles=3,
            va=36_000,
            load_class="heat",
            continuous=False,
            power_factor=1.0,
        )
    return b


def test_a_remedy_is_found_and_applied(service: oneline.Builder) -> None:
    verdict = next(v for v in oneline.check(service.drawing).verdicts if v.rule == "AMP-1" and v.name == "Run")
    assert verdict.state == "fail"
    found = oneline.remedies(service.drawing, verdict)
    after = oneline.with_remedy(service.drawing, found.found[0])
    assert next(v.state for v in oneline.check(after).verdicts if (v.rule, v.name) == ("AMP-1", "Run")) == "pass"


def test_fits_bounds_and_field_checks(service: oneline.Builder) -> None:
    drawing = service.drawing
    left = oneline.fits(drawing, service.find("Board")).balanced
    assert left is not None
    assert left.amperes == pytest.approx(400 - 36_000 / 208 / sqrt(3), abs=0.05)
    drop = next(v for v in oneline.check(drawing).verdicts if v.rule == "VD" and v.state == "unknown")
    assert oneline.bounds(drawing, drop).found[0].high is not None
    assert any("length of Run" in n.phrase for g in oneline.field_checks(drawing) for n in g.needs)


def test_views_and_editions_that_there_are_not_are_refused(service: oneline.Builder) -> None:
    with pytest.raises(ValueError, match="edition 1999"):
        oneline.fits(service.drawing, service.find("Board"), edition=1999)
