"""Hostile and damaged files: each is refused or repaired with a message that names the place; nothing is guessed."""

from __future__ import annotations

import hashlib
import json
import random
from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from oneline.files import CannotOpen, Opened, read_drawing, to_bytes
from oneline.files.serialize import settle
from oneline.files.strict import MAX_DEPTH, lines_of, too_deep
from oneline.model import KINDS, Bus, Circuit, Drawing, End, Place, Reading

UTC = "2026-03-31T14:05:00Z"


def small() -> Drawing:
    """A service, a main, a panel with three circuits and a reading, a load, and what joins them."""
    circuits = (
        Circuit(1, 1, 20.0, "Bench lights", va=1200.0, load_class="lighting"),
        Circuit(2, 2, 30.0, "Kiln", va=4800.0, load_class="other", note="two\nlines"),
        Circuit(3, 1, 20.0, "Spare", use="spare"),
    )
    reading = Reading("2026-02-10 07:30", 41.5, 38.0, None, 6.0, "clamp meter")
    items = [
        KINDS["service"](id="service1", name="Utility", system="208Y/120", fault_ka=22.0),
        KINDS["disconnect"](id="disconnect2", name="Main", rating_a=400.0, trip_a=400.0, place=Place(10, 20)),
        KINDS["bus"](id="bus3", name="Panel A", rating_a=400.0, circuits=circuits, readings=(reading,)),
        KINDS["load"](id="load4", name="Lift", horsepower=7.5, basis=MappingProxyType({"horsepower": "nameplate"})),
        KINDS["run"](id="run5", a=End("service1", "out"), b=End("disconnect2", "line"), size="500", length_ft=38.5),
        KINDS["joint"](id="joint6", a=End("disconnect2", "load"), b=End("bus3", "bus")),
        KINDS["run"](id="run7", a=End("bus3", "bus"), b=End("load4", "in")),
    ]
    return Drawing(items=MappingProxyType({i.id: i for i in items}), next_number=8)


GOOD = to_bytes(small(), UTC)


def sealed(text: str) -> bytes:
    """The text with the checksum of its body, so that the checksum is not what is found wrong."""
    head, _, body = text.partition("\n")
    start = head.index('"sha256_of_body":"') + len('"sha256_of_body":"')
    digest = hashlib.sha256(body.encode("utf-8", "surrogatepass")).hexdigest()
    return (head[:start] + digest + head[start + 64 :] + "\n" + body).encode("utf-8", "surrogatepass")


def changed(old: str, new: str) -> bytes:
    text = GOOD.decode()
    assert text.count(old) >= 1, old
    return sealed(text.replace(old, new, 1))


def one_problem(opened: Opened) -> str:
    assert len(opened.problems) == 1, [str(p) for p in opened.problems]
    return str(opened.problems[0])


# ---------------------------------------------------------------------------------------------- one fact costs one fact
FACTS: list[tuple[str, str, str, str, Any, str]] = [
    # old text, new text, item, field, value it has then, words of the message
    ('"rating_a":400,"status":"existing","trip_a"', '"rating_a":-5,"status":"existing","trip_a"', "disconnect2", "rating_a",
     None, "possible are 0 to 10000 A"),
    ('"trip_a":400', '"trip_a":400000', "disconnect2", "trip_a", None, "It says 400000 A"),
    ('"trip_a":400', '"trip_a":1e400', "disconnect2", "trip_a", None, "a number that is too large"),
    ('"trip_a":400', '"trip_a":NaN', "disconnect2", "trip_a", None, "It says NaN"),
    ('"trip_a":400', '"trip_a":Infinity', "disconnect2", "trip_a", None, "It says Infinity"),
    ('"trip_a":400', '"trip_a":-Infinity', "disconnect2", "trip_a", None, "It says -Infinity"),
    ('"trip_a":400', '"trip_a":"400"', "disconnect2", "trip_a", None, "a number is needed"),
    ('"trip_a":400', '"trip_a":true', "disconnect2", "trip_a", None, "It says true; a number is needed"),
    ('"trip_a":400', '"trip_a":[400]', "disconnect2", "trip_a", None, "It says a list"),
    ('"trip_a":400', '"trip_a":{"a":400}', "disconnect2", "trip_a", None, "It says an object"),
    ('"trip_a":400', '"trip_a":' + "9" * 5000, "disconnect2", "trip_a", None, "a number of 5000 digits"),
    ('"length_ft":38.5', '"length_ft":-0.5', "run5", "length_ft", None, "possible are 0 to 10000 ft"),
    ('"size":"500"', '"size":"510"', "run5", "size", None, "It says \"510\"; known are 18, 16"),
    ('"size":"500"', '"size":500', "run5", "size", None, "a text is needed"),
    ('"sets":1', '"sets":1.5', "run5", "sets", None, "a whole number is needed"),
    ('"system":"208Y/120"', '"system":"208y/120"', "service1", "system", None, "known are 208Y/120"),
    ('"place":[10,20]', '"place":[10]', "disconnect2", "place", None, "a point is [x, y]"),
    ('"place":[10,20]', '"place":[1e300,0]', "disconnect2", "place", None, "a place on the sheet is needed"),
    ('"name":"Lift"', '"location":7,"name":"Lift"', "load4", "location", None, "a text is needed"),
    ('"horsepower":7.5', '"continuous":"yes","horsepower":7.5', "load4", "continuous", None, "true or false is needed"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "item", "field", "value", "words"), FACTS, ids=[f"{f[1][:40]}" for f in FACTS])
def test_a_bad_fact_is_unknown_and_named(old: str, new: str, item: str, field: str, value: Any, words: str) -> None:
    opened = read_drawing(changed(old, new))
    text = one_problem(opened)
    assert words in text
    problem = opened.problems[0]
    assert problem.item == item
    assert f"field {field}" in problem.where
    line = GOOD.decode().split("\n").index(next(x for x in GOOD.decode().split("\n") if f'"id":"{item}"' in x)) + 1
    assert problem.line == line
    assert f"line {line}" in problem.where
    assert getattr(opened.drawing.get(item), field) == value
    assert len(opened.drawing) == 7


# --------------------------------------------------------------------------------------- a bad item costs its connections
ITEMS: list[tuple[str, str, list[str], str]] = [
    # old text, new text, items that are gone, words of the first message
    ('"id":"disconnect2"', '"id":"disconnect2","id":"disconnect2"', ["disconnect2", "run5", "joint6"], "stands twice"),
    ('"trip_a":400', '"trip_a":400,"trip_a":410', ["disconnect2", "run5", "joint6"], 'The key "trip_a" stands twice'),
    ('"form":"breaker"', '"form":"braker"', ["disconnect2", "run5", "joint6"], "known are breaker, fused switch"),
    ('"form":"breaker",', "", ["disconnect2", "run5", "joint6"], "The entry form is missing"),
    ('"closed":true,', "", ["disconnect2", "run5", "joint6"], "The entry closed is missing"),
    ('"closed":true', '"closed":null', ["disconnect2", "run5", "joint6"], "cannot be unknown"),
    ('"kind":"disconnect"', '"kind":"disconect"', ["disconnect2", "run5", "joint6"], 'Its kind is "disconect"'),
    ('"kind":"disconnect"', '"kind":["disconnect"]', ["disconnect2", "run5", "joint6"], "Its kind is a list"),
    ('"kind":"disconnect",', "", ["disconnect2", "run5", "joint6"], "Its kind is nothing"),
    ('"id":"disconnect2"', '"id":"../../etc/passwd"', ["disconnect2", "run5", "joint6"], "letters, digits"),
    ('"id":"disconnect2"', '"id":7', ["disconnect2", "run5", "joint6"], "Its id is 7"),
    ('"id":"disconnect2"', '"id":""', ["disconnect2", "run5", "joint6"], 'Its id is ""'),
    ('"id":"disconnect2"', '"id":"' + "x" * 65 + '"', ["disconnect2", "run5", "joint6"], "letters, digits"),
    ('"id":"load4"', '"id":"bus3"', ["load4", "run7"], "The id bus3 already belongs to Panel A"),
    ('["disconnect2","line"]', '["disconnect9","line"]', ["run5"], "there is no such item"),
    ('["disconnect2","line"]', '["disconnect2","side"]', ["run5"], "which has no terminal 'side'"),
    ('["disconnect2","line"]', '"disconnect2"', ["run5"], "an end is [item, terminal]"),
    ('["disconnect2","line"]', '["service1","out"]', ["run5"], "an item cannot feed itself"),
    ('["disconnect2","load"]', '["bus3","bus"]', ["joint6"], "an item cannot feed itself"),
    ('["disconnect2","line"]', "null", ["run5"], "only one end"),
    ('["service1","out"]', "null", ["run5"], "no first end"),
    ('["bus3","bus"],"b":["load4"', '["joint6","bus"],"b":["load4"', ["run7"], "has no terminal"),
    ('{"a":["service1"', '"just a text",{"a":["service1"', [], 'It is "just a text"'),
    ('{"a":["service1"', 'null,{"a":["service1"', [], "It is nothing where an object is needed"),
    ('{"a":["service1"', '[[]],{"a":["service1"', [], "It is a list where an object is needed"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "gone", "words"), ITEMS, ids=[f"{i[1][:40]}" for i in ITEMS])
def test_a_bad_item_is_set_aside_and_the_rest_opens(old: str, new: str, gone: list[str], words: str) -> None:
    opened = read_drawing(changed(old, new))
    assert words in str(opened.problems[0])
    assert opened.problems[0].line is not None
    assert set(small().items) - set(opened.drawing.items) == set(gone)
    assert len(opened.left_out) == max(1, len(gone))
    said = " ".join(str(p) for p in opened.problems)
    for connection in gone:
        if connection.startswith(("run", "joint")):
            assert connection in said
    # What was opened is a drawing that can be saved and opened again without complaint.
    again = read_drawing(to_bytes(opened.drawing, UTC))
    assert again.problems == ()
    assert again.drawing == settle(opened.drawing)


ROWS: list[tuple[str, str, Callable[[Bus], bool], str]] = [
    ('"va":4800', '"va":"4800"', lambda b: b.circuits[1].va is None, "circuits row 2, field va"),
    ('"space":2', '"space":0', lambda b: [c.space for c in b.circuits] == [1, 3], "A circuit was left out"),
    ('"poles":2', '"poles":9', lambda b: len(b.circuits) == 2, "missing from every total"),
    ('"use":"spare"', '"use":"unused"', lambda b: len(b.circuits) == 2, "known are load, spare, space, feeder"),
    ('"va":4800', '"va":4800,"feeds":"bus3"', lambda b: b.circuits[1].feeds is None, "feeds the panel it is in"),
    ('"va":4800', '"va":4800,"feeds":"bus9"', lambda b: b.circuits[1].feeds is None, "there is no such item"),
    ('"va":4800', '"va":4800,"feeds":"run5"', lambda b: b.circuits[1].feeds is None, "a connection and not a device"),
    ('"a_a":41.5', '"a_a":99999', lambda b: b.readings[0].a_a is None, "readings row 1, field a_a"),
    ('"when":"2026-02-10 07:30"', '"when":20260210', lambda b: b.readings == (), "A reading was left out"),
    ('"circuits":[', '"circuits":{},"x":[', lambda b: b.circuits == (), "a list is needed"),
    ('"rating_a":400,"readings"', '"basis":{"rating_a":"hearsay"},"rating_a":400,"readings"', lambda b: not b.basis,
     'rating_a" says "hearsay"'),
    ('"rating_a":400,"readings"', '"basis":[1],"rating_a":400,"readings"', lambda b: not b.basis, "an object is needed"),
    ('"rating_a":400,"readings"', '"ratting_a":300,"rating_a":400,"readings"', lambda b: "ratting_a" in b.extra,
     'knows no "ratting_a"'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "holds", "words"), ROWS, ids=[f"{r[1][:40]}" for r in ROWS])
def test_rows_and_structures(old: str, new: str, holds: Callable[[Bus], bool], words: str) -> None:
    opened = read_drawing(changed(old, new))
    bus = opened.drawing.get("bus3")
    assert isinstance(bus, Bus)
    assert holds(bus)
    assert words in " ".join(str(p) for p in opened.problems)


def test_schedules_that_feed_each_other_are_cut() -> None:
    rows = {n: Circuit(1, 3, 100.0, "On", use="feeder", feeds=f"bus{n % 3 + 1}") for n in (1, 2, 3)}
    buses = {f"bus{n}": Bus(id=f"bus{n}", name=f"Panel {n}", circuits=(row,)) for n, row in rows.items()}
    opened = read_drawing(to_bytes(Drawing(items=MappingProxyType(buses), next_number=4), UTC))
    assert "feed each other in a ring" in one_problem(opened)
    fed = [b.circuits[0].feeds for b in opened.drawing.of(Bus)]
    assert sorted(map(str, fed)) == ["None", "bus2", "bus3"]
    assert [b.circuits[0].use for b in opened.drawing.of(Bus) if b.circuits[0].feeds is None] == ["load"]


def test_a_closed_loop_of_runs_is_legal() -> None:
    buses = [Bus(id=f"bus{n}") for n in (1, 2)]
    runs = [KINDS["run"](id=f"run{n}", a=End("bus1", "bus"), b=End("bus2", "bus")) for n in (3, 4)]
    drawing = Drawing(items=MappingProxyType({i.id: i for i in (*buses, *runs)}), next_number=5)
    assert read_drawing(to_bytes(drawing, UTC)).problems == ()


TEXTS: list[tuple[str, str, str]] = [
    ("Lift\\u202egnp.exe", "Liftgnp.exe", "A text was cleaned"),
    ("Lift\\u2066x\\u2069", "Liftx", "A text was cleaned"),
    ("Li\\u0000ft", "Lift", "A text was cleaned"),
    ("Lift\\u001b[31m", "Lift[31m", "A text was cleaned"),
    ("Lift\\ud800", "Lift", "A text was cleaned"),
    ("Lift\\nroom", "Lift room", "A text was cleaned"),
    (
        "Kon\\u0308ig",
        "K\u00f6nig".replace("K\u00f6nig", "Kon\u0308ig".replace("n\u0308", "n\u0308")),
        "A text was cleaned",
    ),
    ("x" * 300, "x" * 200, "A text is too long"),
    ("<script>alert(1)</script>", "<script>alert(1)</script>", ""),
    ("=cmd|' /C calc'!A0", "=cmd|' /C calc'!A0", ""),
    ("Feu\\u0301", "Feu\u0301", ""),
]


@pytest.mark.parametrize(("raw", "name", "words"), TEXTS, ids=[t[0][:24] for t in TEXTS])
def test_texts_are_cleaned_and_said_so(raw: str, name: str, words: str) -> None:
    import unicodedata

    opened = read_drawing(changed('"name":"Lift"', f'"name":"{raw}"'))
    got = opened.drawing.get("load4").name
    assert got == unicodedata.normalize("NFC", name)
    if words and got != json.loads(f'"{raw}"'):
        assert words in one_problem(opened)


# ------------------------------------------------------------------------------------------------ the whole file refused
WHOLE: list[tuple[str, bytes, str]] = [
    ("empty", b"", "The file is empty"),
    ("blank", b" \n \n", "The file is empty"),
    ("a list", b"[]", "This is not a drawing"),
    ("a number", b"42", "This is not a drawing"),
    ("other json", b'{"name":"x"}', "This is not a drawing"),
    ("a text", b"Panel A, 400 A", "not a drawing"),
    ("binary", bytes(range(256)), "is not UTF-8 text"),
    ("utf-16", GOOD.decode().encode("utf-16"), "is not UTF-8 text"),
    ("zip", b"PK\x03\x04" + b"\x00" * 100, "not a drawing"),
    ("deep list", b"[" * 100_000 + b"]" * 100_000, "nested too deeply"),
    ("deep object", b'{"a":' * 100_000 + b"1" + b"}" * 100_000, "nested too deeply"),
    ("other format", GOOD.replace(b"oneline drawing", b"another drawing"), "This is not a drawing"),
    ("format twice", GOOD.replace(b'{"header":{', b'{"header":{"format":"oneline drawing",'), "twice"),
    ("no version", GOOD.replace(b',"version":[1,0]', b""), "which version"),
    ("version text", GOOD.replace(b"[1,0]", b'"1.0"'), "which version"),
    ("version zero", GOOD.replace(b"[1,0]", b"[0,9]"), "which version"),
    ("version flags", GOOD.replace(b"[1,0]", b"[true,false]"), "which version"),
    ("version negative", GOOD.replace(b"[1,0]", b"[1,-1]"), "which version"),
    ("version huge", GOOD.replace(b"[1,0]", b"[1," + b"9" * 5000 + b"]"), "which version"),
    ("two bodies", sealed(GOOD.decode().replace('"next_number"', '"items":[],"next_number"')), "stands in it twice"),
    ("items object", sealed(GOOD.decode().replace('"items":[', '"items":{},"itms":[')), "a list is needed"),
    ("no items", sealed(GOOD.decode().replace('"items":[', '"itms":[')), "a list is needed"),
]


@pytest.mark.parametrize(("data", "words"), [w[1:] for w in WHOLE], ids=[w[0] for w in WHOLE])
def test_what_is_not_a_drawing_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(CannotOpen) as refused:
        read_drawing(data)
    problem = refused.value.problem
    assert words in str(problem)
    assert problem.what_to_do


def nested(deep: int) -> str:
    return "[" * deep + "]" * deep


@pytest.mark.parametrize("deep", [70, 400, 900, 960, 975, 980, 985, 990, 995, 1000, 5000])
def test_a_deeply_nested_value_costs_its_item_and_never_the_program(deep: int) -> None:
    """At some depths the interpreter can just read a text and then not go through it once more."""
    data = changed('"horsepower":7.5', f'"horsepower":{nested(deep)}')
    opened = read_drawing(data)
    assert "nested more than" in str(opened.problems[0])
    assert "load4" in opened.problems[0].where
    assert set(small().items) - set(opened.drawing.items) == {"load4", "run7"}
    # In another layout no single line can be left out, so the file is refused.
    with pytest.raises(CannotOpen, match="nested too deeply"):
        read_drawing(sealed(data.decode().replace('"items":[\n', '"items":[', 1)))


def test_nesting_is_counted_outside_of_texts() -> None:
    for deep in (1, 5, MAX_DEPTH, MAX_DEPTH + 1):
        assert too_deep(nested(deep)) == (deep > MAX_DEPTH)
        assert too_deep('{"a":' * deep + "1" + "}" * deep) == (deep > MAX_DEPTH)
        assert too_deep("[" * deep) == (deep > MAX_DEPTH)
    assert not too_deep("[" + "[],{}," * 5000 + "[]]"), "side by side is not deep"
    for text in ('"' + "[" * 500 + '"', '"\\"' + "[" * 500 + '"', '["\\\\",[],"' + "{" * 500 + '"]', '"' + "[" * 500):
        assert not too_deep(text)
    assert too_deep('["\\\\",' + nested(100) + "]"), "the text ends at the second quotation mark"
    opened = read_drawing(changed('"name":"Lift"', f'"name":"Lift {"[" * 90}"'))
    assert opened.problems == ()
    assert opened.drawing.get("load4").name == "Lift " + "[" * 90


def test_nesting_is_what_counting_character_by_character_finds() -> None:
    chance = random.Random(7)

    def made(left: int) -> Any:
        kind = chance.random()
        if left <= 0 or kind < 0.2:
            return chance.choice(["a[", '\\"[{', "\\", '"', "}]"]) * chance.randint(0, 3)
        if kind < 0.6:
            return [made(left - chance.randint(1, 3)) for _ in range(chance.randint(0, 3))]
        return {made(0): made(left - 1) for _ in range(chance.randint(0, 3))}

    def counted(text: str) -> int:
        depth = most = 0
        inside = escaped = False
        for ch in text:
            if inside:
                inside, escaped = escaped or ch != '"', ch == "\\" and not escaped
            elif ch == '"':
                inside = True
            else:
                depth += (ch in "[{") - (ch in "]}")
                most = max(most, depth)
        return most

    deepest = 0
    for _ in range(600):
        text = json.dumps(made(chance.randint(1, 40)))
        depth = counted(text)
        deepest = max(deepest, depth)
        for most in (0, 1, 5, 9, depth - 1, depth, depth + 1):
            assert too_deep(text, most) == (depth > most), text
    assert deepest > 12


def test_looking_for_the_lines_of_never_fails() -> None:
    text = GOOD.decode()
    assert lines_of(text) == list(range(3, 10))
    for end in range(0, len(text), 7):
        assert lines_of(text[:end]) == list(range(3, 10))[: len(lines_of(text[:end]))]
    assert lines_of('{"items":[1,' + nested(100_000) + "]}") == [1, 1]
    assert lines_of("") == []


def test_files_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path, words in ((tmp_path / "none.oneline", "no file of this name"), (tmp_path, "It is a folder")):
        with pytest.raises(CannotOpen, match=words):
            read_drawing(path)
    with pytest.raises(CannotOpen, match="cannot be read"):
        read_drawing("bad\0name")
    monkeypatch.setattr("oneline.files.fingerprint.MAX_BYTES", 100)
    path = tmp_path / "big.oneline"
    path.write_bytes(GOOD)
    with pytest.raises(CannotOpen, match="The file is too large"):
        read_drawing(path)
    with pytest.raises(CannotOpen, match="The file is too large"):
        read_drawing(GOOD)


def test_too_many_items(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("oneline.files.reader.MAX_ITEMS", 3)
    with pytest.raises(CannotOpen, match="It has 7 items; at most 3"):
        read_drawing(GOOD)


def test_project_and_counter() -> None:
    opened = read_drawing(changed('"edition":2023', '"edition":1999'))
    assert "The 2023 edition is used" in one_problem(opened)
    assert opened.drawing.project.edition == 2023
    opened = read_drawing(changed('"project":{"edition":2023}', '"project":7'))
    assert "title block" in one_problem(opened)
    for bad in ("-3", '"8"', "null", "true", "1.5"):
        opened = read_drawing(changed('"next_number":8', f'"next_number":{bad}'))
        assert "count of items" in one_problem(opened)
        assert opened.drawing.next_number == 8
    _, fresh = opened.drawing.fresh_id("bus")
    assert fresh.next_number == 9


def test_hand_formatted_file_opens_with_a_word_about_its_checksum() -> None:
    opened = read_drawing(json.dumps(json.loads(GOOD), indent=2).encode())
    assert "does not match the checksum" in one_problem(opened)
    assert opened.drawing == small()
    opened = read_drawing(GOOD.replace(b"\n", b"\r\n"))
    assert opened.problems == ()
    opened = read_drawing(b"\xef\xbb\xbf" + GOOD)
    assert opened.problems == ()
    without = GOOD.decode()
    start = without.index('"sha256_of_body":"')
    opened = read_drawing((without[:start] + without[start + 18 + 66 :]).encode())
    assert "checksum in its header is missing" in one_problem(opened)


def test_line_numbers_also_in_a_file_of_another_layout() -> None:
    text = json.dumps(json.loads(GOOD), indent=2).replace('"trip_a": 400', '"trip_a": "x"')
    opened = read_drawing(text.encode())
    line = opened.problems[1].line
    assert line is not None
    # The item begins at that line: its opening brace, with its first key on the next.
    assert text.split("\n")[line - 1].strip() == "{"
    assert "disconnect2" in "".join(text.split("\n")[line - 1 : line + 20])


# ------------------------------------------------------------------------------------------------------------- damage
def test_every_truncation_is_refused_with_a_message() -> None:
    for end in range(len(GOOD) - 1):
        with pytest.raises(CannotOpen) as refused:
            read_drawing(GOOD[:end])
        assert refused.value.problem.what in (
            "The file is cut short", "The file is empty", "The file is damaged or is not a drawing"
        )  # fmt: skip
        assert refused.value.problem.what_to_do
    # Only the last newline missing: everything is there, and it says that it is not the file that was saved.
    opened = read_drawing(GOOD[:-1])
    assert opened.drawing == small()
    assert "checksum" in one_problem(opened)


def opened_or_none(data: bytes) -> Opened | None:
    """The opened file, or ``None`` where it was refused with a next step."""
    try:
        return read_drawing(data)
    except CannotOpen as refused:
        if not refused.problem.what_to_do:
            raise
        return None


def same_facts(opened: Opened) -> bool:
    return opened.drawing.items == small().items and opened.drawing.project == small().project


def flipped(position: int, bit: int) -> bytes:
    data = bytearray(GOOD)
    data[position] ^= 1 << bit
    return bytes(data)


def test_every_single_bit_flip_is_noticed() -> None:
    """A flip in the body is always said; one in the header may only pass where it changes no fact."""
    body = GOOD.index(b"\n") + 1
    for position in range(len(GOOD)):
        for bit in range(8):
            opened = opened_or_none(flipped(position, bit))
            if opened is not None:
                assert opened.problems or (position < body and same_facts(opened)), (position, bit)
                assert all(p.what and p.why for p in opened.problems)


def test_bursts_of_damage_are_noticed() -> None:
    chance = random.Random(20260331)
    for _ in range(400):
        data = bytearray(GOOD)
        start = chance.randrange(len(data))
        for position in range(start, min(len(data), start + chance.randint(2, 64))):
            data[position] = chance.randrange(256)
        opened = opened_or_none(bytes(data))
        assert opened is None or opened.problems or same_facts(opened)


def test_a_broken_line_costs_that_line_only() -> None:
    broken = GOOD.replace(b'"id":"load4"', b'"id":"load4', 1)
    opened = read_drawing(broken)
    assert set(small().items) - set(opened.drawing.items) == {"load4", "run7"}
    said = [str(p) for p in opened.problems]
    assert any("load4" in s and "line 6" in s for s in said)
    assert any("checksum" in s for s in said)
