"""The worksheet of a finding, as text and as rich text made of the same parts."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape

from oneline.desk.panes.words import BASIS_WORDS, STATE_WORDS
from oneline.rules.common import amperes, feet_inches, number
from oneline.rules.verdict import Verdict, WorkLine
from oneline.study.tried import Tried

_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_FUNCTIONS = {"sqrt", "min", "max", "abs"}


@dataclass(frozen=True)
class Part:
    """A heading with its lines; ``kind`` "lines" are sentences, "work" are worksheet lines."""

    heading: str
    lines: tuple[str, ...] = ()
    work: tuple[WorkLine, ...] = ()


def figure(value: float | str | None, unit: str, apart_from: float | None = None) -> str:
    """A worksheet's number with its unit, as the findings write them: feet and inches for lengths."""
    if value is None:
        return "not known yet"
    if isinstance(value, str):
        return f"{value} {unit}".strip()
    if unit == "A":
        return amperes(value, apart_from)
    if unit == "ft":
        return feet_inches(value)
    if unit in ("kA", "V", "%", "kVA", "kW"):
        return f"{_apart(value, apart_from)} {unit}"
    digits = 1 if abs(value) >= 100 else 2 if abs(value) >= 10 else 4
    return f"{number(value, digits)} {unit}".strip()


def _apart(value: float, other: float | None) -> str:
    """One decimal; more where it would otherwise read the same as ``other`` without being equal."""
    digits = 1
    while other is not None and digits < 4 and value != other and number(value, digits) == number(other, digits):
        digits += 1
    return number(value, digits)


def margin(verdict: Verdict) -> str:
    """ "12 ft 4 in; at most 10 ft; over by 2 ft 4 in (23 %)". "" without two numbers and a relation."""
    value, limit = verdict.value, verdict.limit
    if value is None or limit is None or verdict.relation not in ("at most", "at least"):
        return ""
    inside = limit - value if verdict.relation == "at most" else value - limit
    outside = "over by" if verdict.relation == "at most" else "short by"
    word = "inside by" if inside >= 0 else outside
    share = f" ({abs(inside) / abs(limit) * 100:.0f} %)" if limit else ""
    gap = "exactly at the limit" if inside == 0 else f"{word} {figure(abs(inside), verdict.unit)}{share}"
    shown = figure(value, verdict.unit, limit)
    return f"{shown}; {verdict.relation} {figure(limit, verdict.unit, value)}; {gap}"


def with_numbers(formula: str, inputs: Mapping[str, float]) -> str:
    """The formula with the numbers put in for the names."""

    def put(match: re.Match[str]) -> str:
        name = match.group(0)
        return name if name in _FUNCTIONS or name not in inputs else _put_in(inputs[name])

    return tidy(_WORD.sub(put, formula))


def _put_in(value: float) -> str:
    """A number inside a formula: six digits that count, no commas, negative ones in brackets."""
    text = f"{value:.0f}" if value == int(value) else f"{value:.6g}"
    return f"({text})" if value < 0 else text


def tidy(formula: str) -> str:
    """A formula in the signs people write."""
    text = formula.replace("**", " ^ ").replace("*", " × ").replace("sqrt", "√")
    return re.sub(r"\s+", " ", text).strip()


def work_text(line: WorkLine) -> str:
    """One worksheet line: what it is, formula, numbers put in, result, where it comes from."""
    result = figure(line.value, line.unit)
    source = f"  [{line.source}]" if line.source else ""
    if not line.formula:
        return f"{line.what}: {result}{source}"
    return f"{line.what}: {tidy(line.formula)} = {with_numbers(line.formula, line.inputs)} = {result}{source}"


def parts(verdict: Verdict, name_of: Callable[[str], str], tried: Tried | None = None) -> list[Part]:
    """Everything that a finding says, in the order in which it is read. ``name_of`` names items by id. ``tried``: what was
    tried for it, where that was asked; the rule's own words then stay only where they agree."""
    found = [Part("", (verdict.message,))]
    compared = margin(verdict)
    if compared:
        found.append(Part("Value and limit", (compared,)))
    elif verdict.value is not None and verdict.unit:
        found.append(Part("Value", (figure(verdict.value, verdict.unit),)))
    text = verdict.remedy if tried is None else tried.text
    if text:
        found.append(Part("What would make it pass", (text,)))
    if tried is not None:
        found.append(_tried_part(tried))
    if verdict.work:
        found.append(Part("How it is reckoned", work=verdict.work))
    if verdict.needs:
        found.append(Part("Not known yet", verdict.needs))
    if verdict.field_checks:
        found.append(Part("See in the field", verdict.field_checks))
    if verdict.others:
        found.append(Part("Also about", tuple(name_of(i) for i in verdict.others)))
    found.append(Part("Rests on", (f"values {_basis(verdict.basis)}",)))
    found.append(Part("Section", (f"{verdict.section}, edition {verdict.edition}",)))
    return found


TRIED = "Tried on the drawing"


def _tried_part(tried: Tried) -> Part:
    lines = []
    for line, costs in remedy_lines(tried):
        lines.append(" ".join((line, *(f"Then {c}." for c in costs))))
    return Part(TRIED, tuple(lines) or tried.lines or ("No value and no single change was found that decides this.",))


def remedy_lines(tried: Tried) -> list[tuple[str, tuple[str, ...]]]:
    """The changes that pass, each with what it costs elsewhere."""
    return [(f"{r.sentence}.", r.costs) for r in tried.remedies.found] if tried.remedies is not None else []


def _basis(basis: str) -> str:
    words = {
        "nameplate": "read on nameplates",
        "measured": "measured",
        "documents": "taken from documents",
        "entered": "entered without saying where they come from",
        "assumed": "that are assumed, at least one of them",
    }
    return words.get(basis, BASIS_WORDS.get(basis, basis))


def as_text(verdict: Verdict, name_of: Callable[[str], str], tried: Tried | None = None) -> str:
    """The worksheet to paste into a message or a report."""
    lines = [f"{STATE_WORDS[verdict.state]}: {verdict.name}"]
    for part in parts(verdict, name_of, tried):
        if part.heading:
            lines += ["", part.heading]
        lines += [f"- {text}" if len(part.lines) > 1 else text for text in part.lines]
        lines += [work_text(w) for w in part.work]
    return "\n".join(lines) + "\n"


def as_html(
    verdict: Verdict, name_of: Callable[[str], str], quiet_color: str, tried: Tried | None = None, offer: str = ""
) -> str:
    """The same for a text browser; item names are links to ``item:<id>``, changes that pass to ``apply:<number>``.

    ``offer``: words of the link ``try:`` that begins to try what would help, "" for none.
    """
    subject = escape(verdict.subject, quote=True)
    out = [
        f'<p style="margin:0"><span style="color:{quiet_color}">{STATE_WORDS[verdict.state]}</span></p>'
        f'<h3 style="margin:0 0 4px 0"><a href="item:{subject}">{escape(verdict.name)}</a></h3>'
    ]
    for part in parts(verdict, name_of, tried):
        if part.heading:
            out.append(f'<p style="margin:8px 0 0 0; color:{quiet_color}"><b>{part.heading}</b></p>')
        if part.heading == "Also about":
            out.append(_links(verdict.others, name_of))
        elif part.heading == TRIED and tried is not None and remedy_lines(tried):
            out += [_remedy_html(n, *line, quiet_color) for n, line in enumerate(remedy_lines(tried))]
        elif len(part.lines) > 1:
            out.append("".join(f'<p style="margin:0 0 0 8px">– {escape(t)}</p>' for t in part.lines))
        else:
            out += [f'<p style="margin:0">{escape(t)}</p>' for t in part.lines]
        out += [_work_html(w, quiet_color) for w in part.work]
        if not part.heading and offer:
            out.append(f'<p style="margin:6px 0 0 0"><a href="try:now">{escape(offer)}</a></p>')
    return "".join(out)


def _remedy_html(number: int, text: str, costs: tuple[str, ...], quiet_color: str) -> str:
    """A change that passes, the link that makes it, and quietly what it costs elsewhere."""
    shown = escape(text.replace("->", "→"))
    paid = "".join(
        f'<p style="margin:0 0 0 16px; color:{quiet_color}">Then {escape(c.replace("->", "→"))}</p>' for c in costs
    )
    return f'<p style="margin:2px 0 0 0"><a href="apply:{number}">Apply</a>&nbsp; {shown}</p>{paid}'


def _links(ids: tuple[str, ...], name_of: Callable[[str], str]) -> str:
    links = [f'<a href="item:{escape(i, quote=True)}">{escape(name_of(i))}</a>' for i in ids]
    return f'<p style="margin:0">{", ".join(links)}</p>'


def _work_html(line: WorkLine, quiet_color: str) -> str:
    source = f' <span style="color:{quiet_color}">[{escape(line.source)}]</span>' if line.source else ""
    result = f"<b>{escape(figure(line.value, line.unit))}</b>"
    if not line.formula:
        return f'<p style="margin:2px 0 0 0">{escape(line.what)}: {result}{source}</p>'
    shown = f"{escape(tidy(line.formula))} = {escape(with_numbers(line.formula, line.inputs))} = {result}"
    return f'<p style="margin:2px 0 0 0">{escape(line.what)}{source}</p><p style="margin:0 0 0 16px">{shown}</p>'
