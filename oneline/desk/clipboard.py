"""Copying and pasting: our own format for other windows, a picture and a table for other programs."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QMimeData, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from oneline.desk.painter import paint_groups, picture_rect
from oneline.desk.theme import PAPER
from oneline.files import FileTrouble, read_drawing, to_bytes
from oneline.model import Drawing, edits, specs
from oneline.model.copies import part_of
from oneline.sheet import Picture, build_picture

MIME_ITEMS = "application/x-oneline-items"
#: Present when the items were cut: they are the same equipment still, so their readings come along.
MIME_CUT = "application/x-oneline-cut"
#: Pixels for one sheet unit in copied and exported pictures.
PICTURE_SCALE = 3.0
_MARGIN = 10.0


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


def pasted(data: QMimeData) -> Drawing:
    """The items on the clipboard. Raises ``EditRefused`` for anything that is not ours or cannot be read."""
    if not data.hasFormat(MIME_ITEMS):
        raise edits.EditRefused("There is nothing on the clipboard that belongs on a drawing. Copy items first.")
    try:
        return read_drawing(bytes(data.data(MIME_ITEMS).data())).drawing
    except FileTrouble as bad:
        raise edits.EditRefused(f"What was copied cannot be read: {bad.problem.why}") from bad
