"""Section numbers, editions and figures of the code stand in resources/tables, not in the texts of rules and study.

Looks at the program's own text: every string and every number, docstrings and comments left out.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import oneline
from oneline import tables
from oneline.model.vocabulary import EDITIONS

ROOT = Path(oneline.__file__).parent
FILES = sorted(p for room in ("rules", "study", "calc", "network") for p in (ROOT / room).rglob("*.py"))

#: "230.82", "240.21(B)(1)", "Table 310.16", "Chapter 9 Table 8", "Article 220", "Annex D".
SECTION = re.compile(r"(?<![\w.])[1-8]\d\d\.\d{1,3}(?![\d%])|Chapter \d|\bTable \d|\bArticle \d|\bAnnex [A-Z]\b")
#: "30 days", "15-minute", "24 in", "125 %", "60 °C".
FIGURE = re.compile(
    r"(?<![\w.])\d+(?:\.\d+)?[ -](?:(?:inch|in|ft|feet|A|kA|VA|kVA|kW|V|°C|minutes?|days?|hours?|hp|AWG|kcmil)\b|%)"
)
#: What may stand in a text all the same, and why.
ALLOWED = {
    "10-ft rule": "the trade's name of the rule, whatever its length",
    "10-ft secondary rule": "the trade's name of the rule",
    "25-ft rule": "the trade's name of the rule",
    "25-ft secondary rule": "the trade's name of the rule",
    "120 % rule": "the trade's name of the rule",
    "listed for continuous load at 100 %": "words of the listing on the device",
    "listed for 100 %": "words of the listing on the device",
    "0 ft": "how no length is written",
}


def constants(tree: ast.Module) -> Iterator[ast.Constant]:
    """Every constant that is not a docstring; of f-strings the fixed parts."""
    documentation = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in documentation:
            yield node


def found_in(source: str) -> list[str]:
    """What a program text holds that should stand in a table."""
    found = []
    for node in constants(ast.parse(source)):
        if isinstance(node.value, str):
            text = node.value
            for allowed in ALLOWED:
                text = text.replace(allowed, "")
            found += [m.group() for pattern in (SECTION, FIGURE) for m in pattern.finditer(text)]
            found += re.findall(rf"\b(?:{'|'.join(map(str, EDITIONS))})\b", text)
        elif type(node.value) is int and node.value in EDITIONS:
            found.append(str(node.value))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_section_number_edition_or_figure_in_the_program(path: Path) -> None:
    assert found_in(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("source", "wanted"),
    [
        ('x = f"{a} is ahead, where 230.82 lists it"', ["230.82"]),
        ('x = "Chapter 9 Table 8"', ["Chapter 9", "Table 8"]),
        ("ok = edition >= 2020", ["2020"]),
        ('x = "not in 2023"', ["2023"]),
        ('x = "a raceway of 24 in or less"', ["24 in"]),
        ('x = "30 days of 15-minute demand"', ["30 days", "15-minute"]),
        ('x = f"{load} at 125 %"', ["125 %"]),
        ('def f():\n    """230.82, since 2020, 24 in."""\n    return "the 10-ft rule"', []),
        ('x = 2020.5 + 20230 + len("IEEE 141, 1910.333, v1.2.3, 480Y/277")', []),
    ],
)
def test_the_search_finds_what_it_looks_for(source: str, wanted: list[str]) -> None:
    assert found_in(source) == wanted


def test_every_exception_is_used() -> None:
    texts = [
        n.value for p in FILES for n in constants(ast.parse(p.read_text(encoding="utf-8"))) if isinstance(n.value, str)
    ]
    for allowed in ALLOWED:
        assert any(allowed in text for text in texts), allowed


# ------------------------------------------------------------------------------------------ where the editions stand
@pytest.mark.parametrize(
    ("id_", "editions"),
    [
        # Change summaries in the trade press: 230.71(B) and 408.6 in 2020; 215.15 and the exception for existing service
        # equipment in 2023; the enclosure's rating in 2026; 705.11: distances in 2020, words in 2023, distances in 2026.
        ("service_disconnects_apart", (2020, 2023, 2026)), ("service_disconnects_existing", (2023, 2026)),
        ("panel_fault_current_marked", (2020, 2023, 2026)), ("panel_rating_marked", (2026,)),
        ("line_side_barrier", (2023, 2026)), ("supply_side_distance", (2020, 2023, 2026)),
        ("supply_side_distance_in_words", (2023,)),
        ("egc_upsized_not_for_correction", (2020, 2023, 2026)),  # from memory
    ],
)  # fmt: skip
def test_editions_in_which_a_part_of_a_rule_applies(id_: str, editions: tuple[int, ...]) -> None:
    assert tuple(e for e in EDITIONS if tables.applies(id_, e)) == editions
    assert tables.since(id_) == editions[0]


def test_an_unknown_part_or_edition_is_loud() -> None:
    with pytest.raises(tables.NotInTable, match="no_such"):
        tables.applies("no_such", 2023)
    with pytest.raises(tables.NotInTable, match="2014"):
        tables.applies("line_side_barrier", 2014)


def test_every_part_names_a_cited_rule() -> None:
    from oneline.tables.source import rows

    assert {row["rule"] for row in rows("edition_starts")} <= set(tables.cited_rules())
