"""What the keys do on the sheet: nudge, walk along the circuit, go to the next item, add the next item."""

from __future__ import annotations

from oneline.desk.tools.base import Board
from oneline.desk.tools.catalog import BY_KEY
from oneline.desk.tools.growth import place_at_item, place_beside_all, settled
from oneline.desk.tools.move import places_of
from oneline.desk.tools.walk import Walker
from oneline.model import ConductorRun, Connection, Drawing, Joint, Place, edits
from oneline.sheet.room import lengthen


def nudge(board: Board, dx: float, dy: float) -> bool:
    """Shift the selected items; a burst of nudges is one step."""
    places = places_of(board, list(board.session.selection))
    if not places:
        return False
    names = [board.session.drawing.name_of(i) for i in places]
    label = f"Move {names[0]}" if len(names) == 1 else f"Move {len(names)} items"
    shifted = {i: Place(p.x + dx, p.y + dy) for i, p in places.items()}
    done = board.edit(label, lambda d: edits.move(settled(d), shifted), merge_key=("nudge", tuple(sorted(places))))
    if done:
        board.show_item(next(iter(places)))
    return done


def walker(board: Board) -> Walker:
    """Neighbors in the view that is shown."""
    session = board.session
    return Walker(session.drawing.view(session.view), session.picture)


def walk(board: Board, step: tuple[int, int]) -> bool:
    """Select the next station along the circuit: up to the source, down to the loads, left or right among siblings."""
    walking = walker(board)
    here = next((i for i in reversed(board.session.selection) if i in walking.drawing), None)
    if here is None:
        return cycle(board, 1)
    ways = {(0, -1): walking.up, (0, 1): walking.down}
    there = ways[step](here) if step in ways else walking.beside(here, step[0])
    if there is None:
        board.say("There is nothing more in that direction.")
        return False
    board.session.select([there])
    board.show_item(there)
    return True


def cycle(board: Board, step: int) -> bool:
    """Select the next (1) or previous (-1) item in reading order."""
    order = walker(board).reading_order()
    if not order:
        board.say("The sheet is empty. Press S to begin with the utility service.")
        return False
    here = board.session.selection[-1] if board.session.selection else None
    index = (order.index(here) + step) % len(order) if here in order else (0 if step > 0 else len(order) - 1)
    board.session.select([order[index]])
    board.show_item(order[index])
    return True


def add_next(board: Board, key: str) -> str | None:
    """Put the next item downstream of the selected one, connected; on free paper when nothing is selected."""
    what = BY_KEY[key]
    session = board.session
    picture, symbols = session.picture, session.symbols
    target = session.selection[-1] if session.selection else None
    status = status_for_new(board, target)
    added: list[str] = []

    def grow(drawing: Drawing) -> Drawing:
        if target is None:
            after, new_id = place_beside_all(drawing, what, status)
        else:
            after, new_id = place_at_item(drawing, picture, target, what, status, symbols)
        added.append(new_id)
        return after

    name = edits.free_name(session.drawing, what.title)
    if not board.edit(f"Add {name}", grow):
        return None
    session.select(added)
    board.show_item(added[0])
    board.say(placed_sentence(session.drawing, added[0], target))
    return added[0]


def status_for_new(board: Board, target: str | None) -> str:
    """New work hangs below new work; else what the user chose. The existing view shows no new work, so it draws existing."""
    if board.session.view == "existing":
        return "existing"
    item = board.session.drawing.items.get(target) if target else None
    return "new" if item is not None and item.status == "new" else board.new_status


def swap_connection(drawing: Drawing, line_id: str) -> tuple[Drawing, str]:
    """Make a bolted connection of conductors, or conductors of a bolted connection. The conductors' facts go with them.

    What is below conductors that were bolted moves down: their label and the codes of their sources need room."""
    line = drawing.get(line_id)
    if not isinstance(line, ConductorRun | Joint):
        raise edits.EditRefused(f"{drawing.name_of(line_id)} is neither conductors nor a bolted connection.")
    kind = "joint" if isinstance(line, ConductorRun) else "run"
    drawing = drawing.with_items(removed=[line_id])
    drawing, new_id = edits.connect(drawing, line.a, line.b, kind=kind, status=line.status, bends=line.bends)
    return (lengthen(settled(drawing), new_id) if kind == "run" else drawing), new_id


def placed_sentence(drawing: Drawing, item_id: str, target: str | None) -> str:
    """What was put where, and what can be done next."""
    name = drawing.name_of(item_id)
    if target is None or not drawing.connections_of(item_id):
        return f"{name} is on the sheet, not connected. F2 names it."
    if target in drawing and isinstance(drawing.get(target), Connection):
        return f"{name} is in the line{_between(drawing, item_id)}. Lengths of both parts are unknown now. F2 names it."
    kinds = {c.kind for c in drawing.connections_of(item_id)}
    how = "bolted" if kinds == {"joint"} else "connected by conductors"
    return f"{name} is {how} to {drawing.name_of(target)}. J changes that, F2 names it."


def _between(drawing: Drawing, item_id: str) -> str:
    """The two things an item in a line stands between, in words."""
    ends = [e.item for c in drawing.connections_of(item_id) for e in (c.a, c.b) if e is not None and e.item != item_id]
    return f" between {drawing.name_of(ends[0])} and {drawing.name_of(ends[1])}" if len(ends) == 2 else ""
