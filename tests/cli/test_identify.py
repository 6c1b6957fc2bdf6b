"""``oneline identify`` and ``oneline.identify``: the systems that measured voltages fit. Voltage arithmetic of the nominal
systems: to neutral 1/√3 of a wye, half of a center-tapped winding, √3/2 of it on the high leg."""

from __future__ import annotations

import json

import pytest

import oneline
from oneline.start import main


def test_a_high_leg_is_named_with_its_phase(capsys: pytest.CaptureFixture[str]) -> None:
    args = [
        "identify",
        "--ab",
        "240",
        "--bc",
        "241 V",
        "--ca",
        "239",
        "--an",
        "120",
        "--bn",
        "208",
        "--cn",
        "120",
        "--json",
    ]
    assert main(args) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["fits"] == [{"system": "240D/120-HL", "high_leg": "B", "grounded_phase": None}]
    assert (record["settle"], record["trouble"], record["measured_v"]["bc"]) == ([], None, 241)


def test_what_would_settle_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["identify", "--ab", "240", "--an", "120", "--bn", "120"]) == 0
    said = capsys.readouterr().out
    assert "120/240 V 1-phase 3-wire" in said
    assert "high leg on C" in said
    assert "B to C, live" in said


def test_an_open_neutral_stops_the_work(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["identify", "--ab", "240", "--an", "90", "--bn", "150"]) == 1
    assert "Stop work" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--ab", "300", "--bc", "300", "--ca", "300"], 1, "fit no nominal system"),
        (["--ab", "much"], 2, "--ab much"),
        ([], 2, "No voltage is given"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered(
    arguments: list[str], code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["identify", *arguments]) == code
    said = capsys.readouterr()
    assert words in said.out + said.err


def test_from_python() -> None:
    found = oneline.identify(ab_v=208, bc_v=208, ca_v=208, an_v=120, bn_v=120, cn_v=120)
    assert found.codes == ("208Y/120",)
    with pytest.raises(ValueError, match="ax_v"):
        oneline.identify(ax_v=3)
    with pytest.raises(ValueError, match="ab_v"):
        oneline.identify(ab_v=-3)
