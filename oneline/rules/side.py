"""The first decision: on which side of the service disconnects a connection is (DEC-SIDE)."""

from __future__ import annotations

from functools import lru_cache

from oneline.rules.common import Subject, listed, verdict
from oneline.rules.verdict import Verdict


@lru_cache(maxsize=1024)
def which_side(
    item: Subject, edition: int, device: Subject | None, marked: bool, service: Subject | None,
    switch: Subject | None = None, refused: bool = False, around: tuple[Subject, ...] = (),
    suspected: Subject | None = None, main: Subject | None = None,
) -> Verdict:  # fmt: skip
    """On which side of the service disconnect new conductors or a new device land, and what changes if that is wrong.

    ``device``: overcurrent device between the service and the connection, ``None`` ahead of every one. ``marked``:
    whether a device on the way is marked as service disconnect, ``main``. ``service``: the utility service that feeds it.
    ``switch``: a disconnect without overcurrent protection on the way, where there is no device. ``refused``: every
    disconnect on the way is marked as none. ``around``: ties and transfer switches through which a service reaches the
    place without passing a service disconnect; ``suspected``: a suspected tie that does.
    """
    name = item.name
    if device is None and switch is not None:
        message = (
            f"{name} starts behind {switch.name}, which opens but does not protect, so the rules of service conductors "
            f"decide. Its overcurrent device belongs next to that disconnect."
        )
        check = f"Whether {switch.name} is the service disconnect, and what protects the conductors behind it."
        return verdict("DEC-SIDE", item, edition, "judge", message, field_checks=(check,), others=(switch.id,))
    if device is None:
        where = service.name if service else "the source"
        message = (
            f"{name} starts between {where} and every service disconnect, so it is service conductors and a switch at its "
            f"end is an additional service disconnect."
        )
        check = f"Follow the conductors of {name} to the point where they start, with the power off."
        return verdict("DEC-SIDE", item, edition, "advice", message, field_checks=(check,))
    others = (device.id,)
    if refused:
        message = (
            f"{name} starts behind {device.name}, which is marked as no service disconnect, and ahead of every one that is. "
            f"The rules of service conductors decide as well as those for taps."
        )
        check = f"Where the service disconnect is, and whether {name} is dead with it open."
        return verdict("DEC-SIDE", item, edition, "judge", message, field_checks=(check,), others=others)
    cut = main or device
    follow = f"Open the board with the power off and follow the bus from the load terminals of {cut.name}."
    if not marked:
        message = (
            f"Whether {name} is dead with {device.name} open is not known yet: nothing ahead of it is marked as service "
            f"disconnect. It is taken as a feeder tap; ahead of the service disconnect it would be service conductors."
        )
        need = f"whether {device.name} is the service disconnect and cuts off where {name} starts"
        return verdict(
            "DEC-SIDE", item, edition, "unknown", message, needs=(need,), field_checks=(follow,), others=others
        )
    if around:
        ties = listed(tuple(x.name for x in around))
        message = (
            f"{name} starts on the load side of {cut.name}, but with {ties} closed a service reaches it without passing a "
            f"service disconnect. Then it is service conductors, and {cut.name} does not make it dead."
        )
        check = f"What stands between the service and {ties}, and whether an interlock keeps it open."
        ids = (*others, *(x.id for x in around))
        return verdict("DEC-SIDE", item, edition, "judge", message, field_checks=(check, follow), others=ids)
    if suspected is not None:
        message = (
            f"Whether {name} is on the load side of every service disconnect is not known yet: {suspected.name}, which "
            f"nobody traced yet, may reach it from ahead of them."
        )
        need = f"trace of {suspected.name}"
        ids = (*others, suspected.id)
        return verdict("DEC-SIDE", item, edition, "unknown", message, needs=(need,), field_checks=(follow,), others=ids)
    message = f"{name} starts on the load side of the service disconnect, so it is a feeder and the tap rules decide."
    return verdict("DEC-SIDE", item, edition, "pass", message, field_checks=(follow,), others=others)
