"""Copying and pasting: our own format for other windows, a picture and a table for other programs."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QByteArray, QMimeData, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from oneline.desk.painter import paint_groups, picture_rect
from oneline.desk.theme import PAPER
from oneline.files import FileTrouble, read_drawing, to_bytes
from oneline.model import Bus, Connection, Drawing, Item, Place, edits, specs
from oneline.sheet import Picture, build_picture

MIME_ITEMS = "application/x-oneline-items"
#: Present when the items were cut: they are the same equipment still, so their readings come along.
MIME_CUT = "application/x-oneline-cut"
#: Pixels for one sheet unit in copied and exported pictures.
PICTURE_SCALE = 3.0
_MARGIN = 10.0


def part_of(drawing: Drawing, item_ids: list[str]) -> Drawing:
    """A drawing of only these items and the connections among them."""
    wanted = {i for i in item_ids if i in drawing}
    inner = {i for i in wanted if not isinstance(drawing.get(i), Connection)}
    kept: list[Item] = []
    for item in drawing.items.values():
        if isinstance(item, Connection):
            ends = [e.item for e in (item.a, item.b) if e is not None]
            if all(e in inner for e in ends) and (item.b is not None or item.id in wanted):
                kept.append(item)
        elif item.id in inner:
            if isinstance(item, Bus):
                rows = tuple(
                    replace(c, feeds=None, use="spare") if c.feeds is not None and c.feeds not in inner else c
                    for c in item.circuits
                )
                item = replace(item, circuits=rows)
            kept.append(item)
    return Drawing(next_number=drawing.next_number).with_items(kept)


def copy_mime(drawing: Drawing, item_ids: list[str], saved_utc: str, symbols: str) -> QMimeData | None:
    """What goes on the clipboard for these items; ``None`` when there is nothing to copy."""
    part = part_of(drawing, item_ids)
    if not part.items:
        return None
    data = QMimeData()
    data.setData(MIME_ITEMS, QByteArray(to_bytes(part, saved_utc)))
    data.setText(as_table(part))
    picture = build_picture(part, None, "proposed", symbols)
    if picture.groups:
        data.setImageData(paint_image(picture))
        data.setData("image/svg+xml", QByteArray(as_svg(picture)))
    return data


def as_table(part: Drawing) -> str:
    """The items as lines of tab-separated words: name, kind, status, and every known fact."""
    lines = []
    for item in part.items.values():
        words = [part.name_of(item.id), item.title, item.status]
        for name, spec in specs(type(item)).items():
            value = getattr(item, name)
            if name not in ("name", "status") and value not in (None, ""):
                unit = f" {spec.unit}" if spec.unit else ""
                words.append(
                    f"{spec.label}: {value:g}{unit}" if isinstance(value, float) else f"{spec.label}: {value}{unit}"
                )
        lines.append("\t".join(words))
    return "\n".join(lines)


def paint_image(picture: Picture, scale: float = PICTURE_SCALE) -> QImage:
    """The picture as pixels, black on white, whatever the theme."""
    rect = picture_rect(picture, _MARGIN)
    image = QImage(
        max(1, round(rect.width() * scale)), max(1, round(rect.height() * scale)), QImage.Format.Format_RGB32
    )
    image.fill(QColor(Qt.GlobalColor.white))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setWindow(QRectF(0, 0, image.width(), image.height()).toRect())
    painter.scale(scale, scale)
    painter.translate(-rect.left(), -rect.top())
    paint_groups(painter, picture.groups, PAPER, scale, zoom=2.0)
    painter.end()
    return image


def as_svg(picture: Picture) -> bytes:
    """The picture as SVG."""
    from oneline.paper.svg import svg_of

    return svg_of(picture).encode()


def can_paste(data: QMimeData) -> bool:
    """Whether the clipboard holds items of ours."""
    return data.hasFormat(MIME_ITEMS)


def pasted(data: QMimeData) -> Drawing:
    """The items on the clipboard. Raises ``EditRefused`` for anything that is not ours or cannot be read."""
    if not data.hasFormat(MIME_ITEMS):
        raise edits.EditRefused("There is nothing on the clipboard that belongs on a drawing. Copy items first.")
    try:
        return read_drawing(bytes(data.data(MIME_ITEMS).data())).drawing
    except FileTrouble as bad:
        raise edits.EditRefused(f"What was copied cannot be read: {bad.problem.why}") from bad


def paste_into(
    drawing: Drawing, part: Drawing, dx: float, dy: float, readings: bool = False
) -> tuple[Drawing, list[str]]:
    """Add the items of another drawing, shifted, with new ids and names that differ from all others.

    A copy was never measured: ``readings`` keeps them only for items that were cut.
    """
    ids: dict[str, str] = {}
    for item in part.items.values():
        ids[item.id], drawing = drawing.fresh_id(item.kind)
    for item in sorted(part.items.values(), key=lambda i: isinstance(i, Connection)):
        new = replace(item, id=ids[item.id], readings=item.readings if readings else ())
        if isinstance(new, Connection):
            a = replace(new.a, item=ids[new.a.item])
            b = None if new.b is None else replace(new.b, item=ids[new.b.item])
            bends = tuple(Place(p.x + dx, p.y + dy) for p in new.bends)
            new = replace(new, a=a, b=b, bends=bends)
        else:
            place = None if new.place is None else Place(new.place.x + dx, new.place.y + dy)
            new = replace(new, place=place, name=edits.free_name(drawing, new.name))
        if isinstance(new, Bus):
            rows = tuple(replace(c, feeds=ids.get(c.feeds)) if c.feeds else c for c in new.circuits)
            new = replace(new, circuits=rows)
        drawing = drawing.with_items([new])
    return drawing, list(ids.values())
