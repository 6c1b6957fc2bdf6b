"""Writes resources/fonts/vera_widths.json: advance widths of the faces that all painters use, in thousandths of the em.

The widths are read from the Bitstream Vera Sans files that come with reportlab (free license). Run it again only
when other faces are chosen: ``python tests/sheet/make_font_widths.py``.
``test_sheet_metrics.py`` compares the file with the fonts.
"""

from __future__ import annotations

import json
from pathlib import Path

FACES = {"regular": "Vera.ttf", "bold": "VeraBd.ttf", "italic": "VeraIt.ttf"}
TARGET = Path(__file__).parents[2] / "resources" / "fonts" / "vera_widths.json"


def font_widths(file: str) -> dict[str, int]:
    """{character: advance width in 1/1000 em} of a font file in reportlab's font folder."""
    import reportlab
    from reportlab.pdfbase.ttfonts import TTFontFile

    font = TTFontFile(str(Path(reportlab.__file__).parent / "fonts" / file))
    scale = 1000 / 1000  # TTFontFile gives widths per 1000 em units already
    return {chr(code): round(width * scale) for code, width in sorted(font.charWidths.items()) if code >= 32}


def main() -> None:
    faces = {face: font_widths(file) for face, file in FACES.items()}
    body = {
        "family": "Bitstream Vera Sans",
        "source": "advance widths of Vera.ttf, VeraBd.ttf and VeraIt.ttf as shipped with reportlab",
        "unit": "1/1000 em",
        "faces": faces,
    }
    TARGET.write_text(json.dumps(body, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
