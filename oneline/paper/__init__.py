"""Papers and exports: the door sheet as PDF, the diagram as SVG and PNG. The only room that uses reportlab.

Imports nothing heavy until something is written.
"""

from __future__ import annotations

from oneline.paper.door import Document, door_sheet, plan_door_sheet
from oneline.paper.page import PAPERS, Page
from oneline.paper.pdf import pdf_bytes
from oneline.paper.png import png_bytes
from oneline.paper.svg import svg_of

__all__ = [
    "PAPERS",
    "Document",
    "Page",
    "door_sheet",
    "pdf_bytes",
    "plan_door_sheet",
    "png_bytes",
    "svg_of",
]
