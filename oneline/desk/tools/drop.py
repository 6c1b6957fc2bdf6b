"""What happens when a moved item is let go on a line: a free two-ended item goes into it."""

from __future__ import annotations

from oneline.model import Bus, Drawing, TransferSwitch, edits


def can_enter_line(drawing: Drawing, item_id: str) -> bool:
    """Whether an item is free and has two ends (or is a bus), so that it can be put into a line."""
    item = drawing.get(item_id)
    two_ended = len(item.terminals) == 2 or isinstance(item, Bus | TransferSwitch)
    return two_ended and not drawing.connections_of(item_id)


def drop_into_line(drawing: Drawing, item_id: str, line_id: str) -> Drawing:
    """Put a free item into a line. Raises ``EditRefused`` where that makes no sense."""
    return edits.split_run(drawing, line_id, item_id)[0]
