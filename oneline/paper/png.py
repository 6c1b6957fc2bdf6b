"""Writes a picture as PNG: our own PDF, rendered. No Qt."""

from __future__ import annotations

import io

from oneline.paper.page import Layer, Page
from oneline.paper.pdf import pdf_bytes
from oneline.paper.picture import on_paper
from oneline.sheet.display import Picture

MARGIN = 20.0
#: Largest side of an image, so that a slip in the resolution does not fill the memory.
MAX_SIDE_PX = 20_000


def picture_page(picture: Picture) -> Page:
    """The picture alone on a page of its own size; one grid unit is one point."""
    shown = on_paper(picture)
    left, top, right, bottom = shown.box
    primitives = tuple(p for g in shown.groups for p in g.primitives)
    layer = Layer(primitives, 1.0, MARGIN - left, MARGIN - top)
    return Page(right - left + 2 * MARGIN, bottom - top + 2 * MARGIN, (layer,))


def png_bytes(picture: Picture, dpi: float = 144) -> bytes:
    """The picture as PNG. ``dpi``: pixels per inch of the full-size picture. Raises ``ValueError`` when out of reason."""
    page = picture_page(picture)
    return page_png(pdf_bytes([page]), 0, dpi)


def page_png(pdf: bytes, index: int, dpi: float = 144) -> bytes:
    """One page of a PDF as PNG."""
    import pypdfium2

    if not 10 <= dpi <= 1200:
        raise ValueError(f"a resolution of {dpi:g} dpi is not between 10 and 1200")
    document = pypdfium2.PdfDocument(pdf)
    try:
        page = document[index]
        if max(page.get_size()) * dpi / 72 > MAX_SIDE_PX:
            raise ValueError(f"at {dpi:g} dpi the image would be more than {MAX_SIDE_PX} pixels wide or high")
        bitmap = page.render(scale=dpi / 72)
        image = bitmap.to_pil().convert("RGB")
        out = io.BytesIO()
        image.save(out, "PNG", dpi=(dpi, dpi))
        bitmap.close()
        page.close()
    finally:
        document.close()
    return out.getvalue()
