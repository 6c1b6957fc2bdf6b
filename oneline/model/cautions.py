"""What the program cannot answer for: shown on screen, on every printed page and in the command line's reports.

The only home of these words. Everything that shows them imports them from here.
"""

from __future__ import annotations

#: Whole sentences, most general first; each stands alone.
CAUTIONS: tuple[str, ...] = (
    "This is an aid. The locally adopted code and the authority having jurisdiction decide.",
    "The work is for qualified, licensed people.",
    "A drawing never proves that anything is dead. Only a proper test, with a meter proved live before and after, does.",
    "Arc-flash and shock risk assessment is a study of its own and is not computed here.",
)

#: The same on one line, for page feet and status lines.
CAUTION_LINE = (
    "An aid: local code and the authority decide. Qualified people only. Test before touch; a drawing proves nothing "
    "dead. Arc flash is not computed."
)

#: Said wherever a work zone, an isolation or a switching order is shown.
ZONE_CAUTION = (
    "The drawing shows only what was entered. It cannot rule out that something else feeds this equipment: treat it as "
    "energized until it is tested at the point of work."
)
