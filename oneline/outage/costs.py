"""What opening a device costs, in points of a table, and why in words: the ranking of isolation points."""

from __future__ import annotations

from oneline.model import Battery, Bus, Disconnect, Load, SolarArray, TransferSwitch
from oneline.network.isolation import openable
from oneline.study.context import Context
from oneline.tables import isolation_cost


def costs(ctx: Context) -> dict[str, tuple[int, tuple[str, ...]]]:
    """{device that can be an isolation point: what opening it costs, and why in words}."""
    weight = [0] * ctx.net.node_count
    for item in ctx.drawing.items.values():
        if isinstance(item, Load) or (isinstance(item, Bus) and item.circuits):
            weight[ctx.net.node(item.id)] += 1
    # An inverter that follows the grid stops with it: it keeps nothing alight.
    followers = [
        i.id for i in ctx.drawing.items.values() if isinstance(i, SolarArray | Battery) and i.forms_grid is not True
    ]
    lost = ctx.live.lost(weight, followers)
    found = {}
    for device in openable(ctx.net):
        reasons = _reasons(ctx, device, sum(lost.get(key, 0) for key in ctx.net.branches_of(device)))
        found[device] = (sum(cost for cost, _ in reasons), tuple(why for _, why in reasons if why))
    return found


def is_open(ctx: Context, device: str) -> bool:
    """Whether a device is open in its present position."""
    return not any(ctx.net.branches[key].closed for key in ctx.net.branches_of(device))


def _reasons(ctx: Context, device: str, lost: int) -> list[tuple[int, str]]:
    item = ctx.drawing.get(device)
    if is_open(ctx, device):
        found = [(isolation_cost("already_open"), "open already")]
    else:
        found = [(isolation_cost("base"), "")]
        if isinstance(item, Disconnect):
            found += _operating(item)
        if lost:
            words = "one thing loses" if lost == 1 else f"{lost} things lose"
            found.append((lost * isolation_cost("dark_each"), f"{words} power with it alone"))
    if isinstance(item, TransferSwitch):
        found.append((isolation_cost("transfer"), "a transfer switch: its controls too have to be locked off"))
    elif isinstance(item, Disconnect) and item.lockable is not True:
        known = item.lockable is False
        words = "cannot be locked open" if known else "nobody said whether it can be locked open"
        found.append((isolation_cost("cannot_lock" if known else "lockable_unknown"), words))
    return found


def _operating(item: Disconnect) -> list[tuple[int, str]]:
    """What speaks against opening a closed device. A breaker is made to open its load; switches and fuses not always."""
    found = []
    if item.form != "breaker" and item.load_break is not True:
        known = item.load_break is False
        words = "may not be opened under load" if known else "nobody said whether it may be opened under load"
        found.append((isolation_cost("not_load_break" if known else "load_break_unknown"), words))
    if item.suspect is True:
        found.append((isolation_cost("suspect"), "doubtful whether it closes again"))
    elif item.suspect is None:
        found.append((isolation_cost("suspect_unknown"), "nobody said whether it closes again"))
    return found
