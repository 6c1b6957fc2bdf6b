"""Remedies: whatever is offered, by the engine or in a rule's own text, is applied here and the drawing studied afresh.

Nothing is compared with what the program said before: the check is that the finding passes on the changed drawing. The
drawings are those of ``tests/oracles/random_service.py``.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from random_service import random_service

from oneline.api import Builder
from oneline.model import Bus, ConductorRun, Drawing, End, edits
from oneline.rules.verdict import Verdict
from oneline.study import study
from oneline.study.remedies import Remedies, agrees, applied, find_remedies
from oneline.study.trials import Trials, finish

#: How bad a state is, written down here on its own.
BAD = ["not_applicable", "pass", "advice", "judge", "unknown", "fail"]
SIZE = r"(?:(\d+) x )?([\d/]+) (?:AWG|kcmil)"


def level(state: str) -> int:
    return max(BAD.index(state), 1)


def remedied(drawing: Drawing, verdict: Verdict, trials: Trials | None = None) -> Remedies:
    return finish(find_remedies(trials or Trials(drawing), verdict))


def failing(drawing: Drawing) -> list[Verdict]:
    return [v for v in study(drawing).verdicts if v.state in ("fail", "judge") and not v.alternative]


def levels(drawing: Drawing) -> dict[tuple[str, str], list[int]]:
    """By rule and item how bad its findings are, worst first."""
    found: dict[tuple[str, str], list[int]] = {}
    for v in study(drawing).verdicts:
        if not v.alternative:
            found.setdefault((v.rule, v.subject), []).append(level(v.state))
    return {key: sorted(each, reverse=True) for key, each in found.items()}


# ------------------------------------------------------------------------------------------------------- the engine
@pytest.mark.parametrize("seed", range(4))
def test_every_remedy_offered_passes_and_makes_nothing_worse(seed: int) -> None:
    drawing = random_service(seed)
    trials, before = Trials(drawing), levels(drawing)
    for verdict in failing(drawing):
        for remedy in remedied(drawing, verdict, trials).found:
            after = levels(remedy.after)
            now = after.get((verdict.rule, verdict.subject), [0])
            assert now[0] < level("judge") or len(now) < len(before[verdict.rule, verdict.subject]), remedy.text
            for key, states in after.items():
                was = before.get(key, [])
                new = key[1] not in drawing
                for n, state in enumerate(states):
                    assert state <= (was[n] if n < len(was) else 2) or (new and state < level("fail")), (
                        remedy.text,
                        key,
                    )


def test_steps_pause_often_and_the_answer_is_that_of_one_go() -> None:
    """The window carries on in slices: a search that is paused at every step finds the same."""
    drawing = random_service(5)
    verdict = next(v for v in failing(drawing) if v.rule == "TAP-0")
    steps, pauses = find_remedies(Trials(drawing), verdict), 0
    while True:
        try:
            next(steps)
            pauses += 1
        except StopIteration as done:
            sliced = done.value
            break
    assert [r.text for r in sliced.found] == [r.text for r in remedied(drawing, verdict).found]
    assert pauses > sliced.tried


def test_what_the_trials_find_is_what_a_study_finds() -> None:
    """The stepped study of the trials gives the states and numbers of the study itself."""
    for seed in range(3):
        drawing = random_service(seed)
        trials = Trials(drawing)
        finish(trials.start())
        mine = Counter((v.rule, v.subject, v.state, v.value) for g in trials.before.values() for v in g)
        assert mine == Counter((v.rule, v.subject, v.state, v.value) for v in study(drawing).verdicts)


def found_for(drawing: Drawing, rule: str, name: str) -> Remedies:
    return remedied(drawing, next(v for v in failing(drawing) if (v.rule, v.name) == (rule, name)))


def put(drawing: Drawing, name: str, **values: Any) -> Drawing:
    item = next(i for i in drawing.items.values() if i.name == name)
    return drawing.with_items([replace(item, **values)])


def test_the_next_size_that_carries_it_is_named(service: Any, circuit: Any) -> None:
    """Table 310.16, copper at 75 degrees C: 6 AWG 65 A, 4 AWG 85 A; 75 A of load on an 80 A breaker takes 4 AWG."""
    s = service(circuits=(circuit(space=1, poles=3, va=1000, load_class="heat"),), sccr_ka=65)
    s.put("disconnect", "Feeder", trip_a=80, rating_a=100, interrupting_ka=65, poles=3, status="new")
    load = circuit(space=1, poles=3, va=27_000, load_class="heat", continuous=False, power_factor=1.0)
    s.put("bus", "LP", rating_a=125, sccr_ka=65, breakers_ka=65, circuits=(load,), status="new", neutral_bonded=False)
    s.joint("MDP", "Feeder")
    s.run(
        "Feeder", "LP", "Run LP", size="6", length_ft=60, status="new", material="copper", insulation="THHN/THWN-2",
        ambient_c=30, current_carrying=3, wet=False, terminal_c=75, sets=1, raceway="EMT", raceway_size="2",
        neutral_size="6", egc_size="6", egc_material="copper",
    )  # fmt: skip
    found = found_for(s.drawing, "AMP-1", "Run LP")
    assert found.found[0].text == "Run LP: 6 AWG -> 4 AWG"
    assert not found.found[0].existing


def test_where_nothing_helps_it_says_so() -> None:
    drawing = random_service(3)
    verdict = next(v for v in study(drawing).verdicts if v.rule == "TAP-BUS" and v.state == "judge")
    assert not remedied(drawing, verdict).found
    assert remedied(drawing, verdict).summary.startswith("No change of a rating, a size or a length")


def test_an_existing_run_is_kept_and_a_new_one_drawn_beside_it() -> None:
    drawing = random_service(3)
    remedy = found_for(drawing, "AMP-1", "Run 1").found[0]
    assert remedy.existing == ("Run 1",)
    kept = applied(drawing, remedy)
    runs = [i for i in kept.of(ConductorRun) if i.name == "Run 1"]
    assert [(r.status, r.size) for r in runs] == [("remove", "6"), ("new", remedy.changes[0].value)]
    assert levels(kept).get(("AMP-1", runs[1].id), [1])[0] < level("judge")
    assert study(kept, "existing").verdicts  # the survey is what it was
    assert {v.message for v in study(kept, "existing").verdicts} == {
        v.message for v in study(drawing, "existing").verdicts
    }


def test_other_existing_items_keep_in_their_notes_what_they_were() -> None:
    drawing = random_service(4)
    remedy = found_for(drawing, "FLT-2", "Board").found[0]
    board = next(i for i in applied(drawing, remedy).of(Bus) if i.name == "Board")
    assert board.sccr_ka > 14
    assert "14 kA ->" in board.notes


def test_new_work_is_changed_as_it_stands() -> None:
    drawing = random_service(7)
    remedy = found_for(drawing, "AMP-1", "Run 3").found[0]
    assert applied(drawing, remedy) == remedy.after


def test_a_main_is_put_between_the_panel_and_its_feeder() -> None:
    drawing = random_service(10)
    found = found_for(drawing, "PNL-1", "Panel 1")
    main = next(r for r in found.found if "add a main" in r.text)
    new = [i for i in main.after.items.values() if i.id not in drawing]
    assert sorted(i.kind for i in new) == ["disconnect", "joint"]
    assert all(i.status == "new" for i in new)


def test_a_text_stays_only_where_its_figures_are_among_what_passes() -> None:
    drawing = random_service(7)
    found = found_for(drawing, "AMP-1", "Run 3")
    assert agrees("Use 4 AWG copper (85 A).", found)
    assert not agrees("Use 6 AWG copper (65 A).", found)
    assert agrees("Keep neutrals and grounds on separate bars.", found)


# ------------------------------------------------------------------------------------------------- the rules' texts
def named(drawing: Drawing, name: str) -> Any:
    return next(i for i in drawing.items.values() if i.name == name)


def conductor(drawing: Drawing, run: str, text: str) -> Drawing:
    found = re.search(SIZE, text)
    assert found, text
    item = drawing.get(run)
    assert isinstance(item, ConductorRun)
    return edits.change(drawing, run, size=found[2], sets=int(found[1] or 1))


def breaker_at_start(drawing: Drawing, run_id: str, amperes: float) -> Drawing:
    run = drawing.get(run_id)
    assert isinstance(run, ConductorRun)
    drawing, new = edits.add(
        drawing,
        "disconnect",
        name="At start",
        trip_a=amperes,
        rating_a=amperes,
        interrupting_ka=100.0,
        poles=3,
        status="new",
    )
    drawing = drawing.with_items([replace(run, a=End(new, "load"))])
    return edits.connect(drawing, run.a, End(new, "line"), kind="joint", status="new")[0]


def tap_step(drawing: Drawing, verdict: Verdict, text: str) -> Drawing:
    """One way out of the tap rules, as its words say."""
    run = verdict.subject
    text = text[:1].lower() + text[1:]
    one_of = re.match(r"on (.+?), (?=use|shorten|fit)", text)
    if one_of:  # one of the two runs of a transformer tap
        run, text = named(drawing, one_of[1]).id, text[one_of.end() :]
    at_most = re.search(r"at most ([\d.]+) A", text)
    if text.startswith("put a device"):
        assert at_most
        return breaker_at_start(drawing, run, float(at_most[1]))
    if text.startswith("change "):
        assert at_most
        device = re.match(r"change (.+?) to at most", text)
        assert device
        return edits.change(drawing, named(drawing, device[1]).id, trip_a=float(at_most[1]))
    for part in re.split(r", | and (?=shorten|fit)", text.partition(" (")[0]):
        if part.startswith("use "):
            drawing = conductor(drawing, run, part)
        elif part.startswith("shorten it to"):
            found = re.search(r"(\d+) ft(?: (\d+) in)?", part)
            assert found, part
            drawing = edits.change(drawing, run, length_ft=int(found[1]) + int(found[2] or 0) / 12)
        elif part.startswith("fit "):
            fuse = re.match(r"fit (\d+) A (?:fuses|breaker) in (.+)", part)
            assert fuse, part
            drawing = edits.change(drawing, named(drawing, fuse[2]).id, trip_a=float(fuse[1]))
        else:
            assert part.startswith("which "), part
    return drawing


def unloaded(drawing: Drawing, device: str, off: dict[str, float]) -> Drawing:
    """A feeder's panel with so many amperes taken off each phase: balanced off the heaters, the rest off the lights.

    The lights are continuous and count at 125 % (215.3); they stand on phase A.
    """
    name = drawing.get(device).name
    panel = named(drawing, "Panel T" if name == "Tap switch" else f"Panel {name.split()[-1]}")
    high = any(i.system == "480Y/277" for i in drawing.items.values() if i.kind == "service")
    volts = (480 if high else 208) / 3**0.5
    even = min((off.get(p, 0.0) for p in "ABC"), default=0.0)
    rows = []
    for c in panel.circuits:
        assert c.va is not None
        less = 3 * volts * even if c.poles == 3 else max(off.values()) - even
        va = c.va - less if c.poles == 3 else c.va - less * volts / 1.25
        if va < 0:
            raise LookupError
        rows.append(replace(c, va=va))
    return drawing.with_items([replace(panel, circuits=tuple(rows))])


def offers(drawing: Drawing, verdict: Verdict) -> Iterator[tuple[str, Drawing]]:
    """Every figure that a rule's text offers, each applied to the drawing by itself."""
    text, rule, subject = verdict.remedy, verdict.rule, verdict.subject
    figures = {kind: re.search(rf"at (?:least|most) ([\d.,]+) {kind}", text) for kind in ("kA", "A")}
    if rule.startswith(("TAP-0", "TAP-10", "TAP-25", "TAP-XF", "TAP-SEC")) and verdict.state == "fail":
        for part in re.split(r"; or ", text.removesuffix(".")):
            yield part, tap_step(drawing, verdict, part)
    elif rule in ("AMP-1", "TAP-SVC"):
        yield text, conductor(drawing, subject, text)
    elif rule.startswith("OCP"):
        if figures["A"]:
            yield text, edits.change(drawing, verdict.others[0], trip_a=float(figures["A"][1]))
        if re.search(SIZE, text):
            yield text, conductor(drawing, subject, text)
    elif rule in ("FLT-1", "FLT-2") and figures["kA"]:
        field = "interrupting_ka" if rule == "FLT-1" else "sccr_ka"
        yield text, edits.change(drawing, subject, **{field: float(figures["kA"][1])})
    elif rule == "PV-1b":
        moved = re.match(r"Move (.+) to the opposite end", text)
        assert moved, text
        yield text, edits.change(drawing, named(drawing, moved[1]).id, bus_end="opposite end")
    elif rule in ("GND-3", "GND-4"):
        found = re.search(SIZE, text)
        if found:
            yield text, edits.change(drawing, subject, egc_size=found[2])
    elif rule == "RWY-1":
        found = re.search(r"trade size ([\d/-]+)", text)
        assert found, text
        yield text, edits.change(drawing, subject, raceway_size=found[1])
    elif rule == "PNL-1":
        most = re.findall(r"at most ([\d.]+) A", text)
        device = re.search(r"change (.+?) to at most", text)
        if device:
            yield text, edits.change(drawing, named(drawing, device[1]).id, trip_a=float(most[1]))
        run = next(r for r in drawing.connections() if r.b is not None and r.b.item == subject)
        added, new = edits.add(
            drawing,
            "disconnect",
            name="New main",
            trip_a=float(most[0]),
            rating_a=float(most[0]),
            poles=3,
            status="new",
        )
        assert run.b is not None
        added = added.with_items([replace(run, b=End(new, "line"))])
        yield text, edits.connect(added, End(new, "load"), run.b, kind="joint", status="new")[0]
    elif rule == "PV-1a" and figures["A"]:
        yield text, edits.change(drawing, named(drawing, "Main").id, trip_a=float(figures["A"][1]))
    elif rule == "CAP" and verdict.name.startswith(("Feeder", "Tap switch")):
        each = re.search(r"Take ([\d.]+) A off each phase", text)
        off = {p: float(a) for a, p in re.findall(r"([\d.]+) A off phase ([ABC])", text)}
        yield text, unloaded(drawing, subject, dict.fromkeys("ABC", float(each[1])) if each else off)


def states_of(drawing: Drawing, verdict: Verdict) -> set[str]:
    """What has become of a finding; of several ratings of one device only of the same one."""
    return {
        v.state for v in study(drawing).verdicts
        if (v.rule, v.subject, v.alternative) == (verdict.rule, verdict.subject, verdict.alternative)
        and (v.rule != "CAP" or v.limit == verdict.limit)
    }  # fmt: skip


#: How often each rule must be met to mean something.
LEAST = {
    "AMP-1": 20,
    "TAP-0": 20,
    "FLT-1": 5,
    "FLT-2": 5,
    "GND-3": 20,
    "CAP": 8,
    "PNL-1": 5,
    "PV-1a": 5,
    "GND-4": 5,
    "TAP-SEC": 1,
}


def test_every_figure_in_a_rules_text_passes_when_it_is_applied() -> None:
    """Each figure offered, applied alone: the finding passes, or is no finding any more. Over 40 random services."""
    applied_to: Counter[str] = Counter()
    for seed in range(100, 140):
        drawing = random_service(seed)
        for verdict in study(drawing).verdicts:
            if verdict.state not in ("fail", "judge") or not verdict.remedy:
                continue
            try:
                ways = list(offers(drawing, verdict))
            except LookupError:  # less than no load
                continue
            # A tap that a single rule carries may still have a question for the authority.
            wrong = {"fail", "unknown"} | (set() if verdict.rule in ("TAP-10", "TAP-25", "TAP-SEC-C2") else {"judge"})
            for text, after in ways:
                assert not states_of(after, verdict) & wrong, (seed, verdict.rule, verdict.name, text)
                applied_to[verdict.rule] += 1
    for rule, least in LEAST.items():
        assert applied_to[rule] >= least, applied_to


# ------------------------------------------------------------------------------------- two findings of one rule and item
def own_finding(drawing: Drawing, verdict: Verdict) -> list[Verdict]:
    """The findings that say the same of the same item, told apart by all that a reader sees of them."""
    return [
        v for v in study(drawing).verdicts
        if (v.rule, v.section, v.subject, v.others, v.alternative)
        == (verdict.rule, verdict.section, verdict.subject, verdict.others, verdict.alternative)
    ]  # fmt: skip


def fused(switch_a: float, fuse_a: float, va: float) -> Drawing:
    """A new fused switch with continuous load of ``va`` behind 200 A conductors, on a service of 2000 A."""
    b = Builder("Two limits", edition=2023)
    rest = {"interrupting_ka": 200, "sccr_ka": 200, "poles": 3, "voltage_rating": "600", "terminal_c": 75}
    u = b.service("U", system="208Y/120", fault_ka=20, fault_x_r=4)
    main = b.disconnect(
        "Main", form="fused switch", rating_a=2000, trip_a=2000, service_disconnect=True, service_rated=True,
        neutral_bonded=True, **rest,
    )  # fmt: skip
    b.joint(u, main)
    board = b.bus("Board", form="switchboard", rating_a=2000, sccr_ka=65, neutral_bonded=False)
    b.joint(main, board)
    with b.status("new"):
        s = b.disconnect("S", form="fused switch", rating_a=switch_a, trip_a=fuse_a, **rest)
        b.joint(board, s)
        panel = b.bus("P", rating_a=400, sccr_ka=65, neutral_bonded=False)
        b.run(s, panel, name="F", size="3/0", neutral_size="3/0", egc_size="4", egc_material="copper", length_ft=50,
              material="copper", insulation="THWN-2", raceway="EMT", current_carrying=3, ambient_c=30, terminal_c=75,
              wet=False)  # fmt: skip
        b.circuit(panel, 1, "L", 200, poles=3, va=va, load_class="other", continuous=True)
    return b.drawing


def test_fuse_and_switch_of_one_item_are_two_findings() -> None:
    """36 kVA at 208 V is 99.9 A, continuous 125 A: over fuses of 100 A (215.3) and over a switch of 100 A (110.3(B)). A
    larger switch leaves the fuses what they are, and the other way round."""
    drawing = fused(100, 100, 36_000)
    both = [v for v in failing(drawing) if v.rule == "CAP" and v.name == "S"]
    assert len({v.section for v in both}) == 2
    for verdict in both:
        for remedy in remedied(drawing, verdict).found:
            assert all(v.state == "pass" for v in own_finding(remedy.after, verdict)), remedy.text
            assert all(v.state == "pass" for v in own_finding(applied(drawing, remedy), verdict)), remedy.text


@pytest.mark.parametrize(
    "sketch", [fused(100, 100, 30_000), fused(200, 100, 36_000), random_service(2), random_service(7)]
)
def test_with_a_remedy_that_finding_passes(sketch: Drawing) -> None:
    """Whatever is offered for a finding: it and no other of its rule is held against the drawing with the remedy."""
    trials = Trials(sketch)
    for verdict in failing(sketch):
        before = own_finding(sketch, verdict)
        for remedy in remedied(sketch, verdict, trials).found:
            bad = [v for v in own_finding(remedy.after, verdict) if level(v.state) >= level("judge")]
            assert len(bad) < sum(level(v.state) >= level("judge") for v in before), (verdict.section, remedy.text)


# --------------------------------------------------------------------------------------------- what nothing can settle
def test_what_no_rating_settles_is_not_searched() -> None:
    """312.8: a cabinet filled with splices beyond 75 % is no matter of a rating, a size or a length."""
    b = Builder()
    service = b.service("Utility", system="208Y/120")
    main = b.disconnect("Main", trip_a=400, rating_a=400, service_disconnect=True)
    panel = b.bus("MDP", rating_a=400, wiring_space_in2=10, spliced_in2=9, status="new")
    b.run(service, main)
    b.run(main, panel)
    drawing = b.drawing
    verdict = next(v for v in failing(drawing) if v.rule == "SVC-12")
    found = remedied(drawing, verdict)
    assert (found.tried, found.found) == (0, ())
    assert found.summary == "No change of a rating, a size or a length settles this."
