"""What a device can break, held against what flows through it when it is operated."""

from __future__ import annotations

from dataclasses import dataclass

from oneline import tables
from oneline.model import Disconnect, Item, TransferSwitch
from oneline.outage.currents import Through
from oneline.rules.common import amperes

#: From nothing to say to worse than anything else. From ``DOUBTFUL`` on a device may not be able to break what it carries.
FINE, JUDGED, UNREAD, DOUBTFUL, ABOVE = range(5)


@dataclass(frozen=True)
class Breaking:
    """Whether a device can break a current: ``state`` as of a step, ``why`` in one or two sentences, ``risk`` for
    comparing orders."""

    state: str
    why: str
    risk: int


_FINE = Breaking("pass", "", FINE)


def rating_of(item: Item) -> float | None:
    """The ampere rating up to which an item may be operated: a breaker's trip, a switch's own rating (its fuses at least
    tell how small it cannot be)."""
    if isinstance(item, Disconnect):
        if item.form == "breaker":
            return item.trip_a if item.trip_a is not None else item.rating_a
        return item.rating_a if item.rating_a is not None else item.trip_a
    return item.rating_a if isinstance(item, TransferSwitch) else None


def able(item: Item) -> bool | None:
    """Whether an item can break load at all; ``None`` where nobody knows."""
    if isinstance(item, Disconnect):
        if item.form == "breaker":
            return item.load_break is not False
        if item.form == "fuses":
            return item.load_break is True
        return item.load_break
    return isinstance(item, TransferSwitch)


def breaking(item: Item, name: str, found: Through, closing: bool = False) -> Breaking:
    """Whether an item can break what flows through it, or ``closing``: make what will flow."""
    zero = tables.switching_practice("about_zero_a")
    most = found.most
    if most is not None and most <= zero:
        return _FINE
    can, rating = able(item), rating_of(item)
    carried, does, remedy = _words(most, closing)
    if can is False:
        fuses = getattr(item, "form", "") == "fuses"
        lacks = "Fuses are not put in under load" if closing else "Fuses that are pulled break no load"
        says = f"{lacks if fuses else f'{name} cannot {does} load'}. {carried}"
        if most is None and not found.certain_a:
            return Breaking("unknown", f"{says}: {remedy}.", DOUBTFUL)
        return Breaking("fail", f"{says}: {'keep' if closing else 'take'} that off first.", ABOVE)
    if can is None:
        return Breaking("unknown", f"Nobody knows whether {name} can {does} load. {carried}: {remedy}.", DOUBTFUL)
    if rating is not None and found.certain_a > rating:
        why = f"{amperes(found.certain_a)} were read, above the {amperes(rating)} that {name} can {does}."
        return Breaking("fail", why, ABOVE)
    if most is None:
        says = "clamp it as soon as it is closed" if closing else f"measure it before {name} is operated"
        return Breaking("unknown", f"{carried}: {says}.", UNREAD)
    if rating is None:
        return Breaking("unknown", f"{carried}. The rating of {name} is not known.", UNREAD)
    if most > rating:
        more = "keep load off" if closing else "measure it, or take load off first"
        return Breaking("unknown", f"{carried}, above the {amperes(rating)} that {name} can {does}: {more}.", DOUBTFUL)
    if found.motors and isinstance(item, Disconnect) and item.form != "breaker":
        why = f"{carried}, motors among it, and the horsepower rating of {name} is not known."
        return Breaking("judge", why, JUDGED)
    return _FINE


def _words(most: float | None, closing: bool) -> tuple[str, str, str]:
    """What flows, what the device does with it, and what to do about it where that is not known."""
    amount = None if most is None else amperes(most, rounding="up")
    if closing:
        carried = "What it takes on is not known" if amount is None else f"It takes on up to {amount}"
        return carried, "be closed onto", "keep everything behind it off until it is closed"
    carried = "What it carries is not known" if amount is None else f"It carries up to {amount}"
    return carried, "break", "measure about 0 A first"
