"""All functions of the window: text, keys, tips, icon, menu. Menus, the bar, the find box and the list of keys use it."""

from __future__ import annotations

from dataclasses import dataclass

from oneline.desk.tools.catalog import PLACEABLES
from oneline.model.vocabulary import EDITIONS, STATUSES

#: One function a line: key | sheet, check, group | icon | keys | text | tip. "sheet": its keys work while the sheet has the
#: keyboard. A group is an exclusive choice. "@place" stands for everything that can be put on the sheet.
_TABLE = """
new |  | new | Ctrl+N | New | Begin an empty drawing
open |  | open | Ctrl+O | Open … | Open a drawing from a file
sample |  |  | Ctrl+Shift+O | Open the worked sample | Open a copy of the worked sample, without a file of its own
recover |  |  | Ctrl+Alt+R | Recovered drawings … | Look at what was kept when the program ended unexpectedly
save |  | save | Ctrl+S | Save | Save the drawing to its file
save-as |  |  | Ctrl+Shift+S | Save as … | Save the drawing to another file
project |  |  | Ctrl+J | Project data … | Building, address, who prepared the drawing, permit, date
door |  | print | Ctrl+P | Door sheet … | Make the PDF for the panel door: diagram, sources, directory
record |  |  | Ctrl+Shift+P | Recorded demand … | Make the PDF of the demand records: plot, peak, what follows from it
import-record |  |  | Ctrl+Shift+I | Import interval data … | Read a recorder's or the utility's file into the selected meter
export |  | export | Ctrl+E | Export diagram … | Write the diagram as SVG, PNG or PDF
close |  |  | Ctrl+W | Close drawing | Close this drawing and begin an empty one
quit |  |  | Ctrl+Q | Quit | Close the program
undo |  | undo | Ctrl+Z | Undo | Take the last change back
redo |  | redo | Ctrl+Shift+Z Ctrl+Y | Redo | Make the change again that was taken back
cut | sheet |  | Ctrl+X | Cut | Copy the selected items and remove them
copy | sheet |  | Ctrl+C | Copy | Copy the selected items, also as a picture
paste | sheet |  | Ctrl+V | Paste | Put the copied items on the sheet
duplicate | sheet | copy | Ctrl+D | Duplicate | Put a copy of the selected items beside them
delete | sheet | delete | Del Backspace | Delete | Remove the selected items and what is connected to them
rename | sheet |  | F2 | Rename | Edit the name where it stands
details | sheet | details | Return Enter | Edit details | Go to the fields of the selected item
select-all | sheet |  | Ctrl+A | Select all | Select everything on the sheet
select-below | sheet |  | Ctrl+Shift+Down | Select everything below | Select all that is fed through the selected item
status-existing | sheet |  | Ctrl+1 | Existing | Mark as existing (E): it is there and stays. Marks the selected items
status-new | sheet |  | Ctrl+2 | New | Mark as new (N): it is put in by this job. Marks the selected items
status-remove | sheet |  | Ctrl+3 | To be removed | Mark as to be removed (R): it is there and goes. Marks the selected items
status-future | sheet |  | Ctrl+4 | Future | Mark as future (F): planned, not in this job. Marks the selected items
find |  | find | Ctrl+K Ctrl+F | Find … | Find an item or a function by its name
view-existing | view | existing | Ctrl+Alt+E | Existing | Show and study the building as it is
view-proposed | view | proposed | Ctrl+Alt+P | Proposed | Show and study the building with the new work
view-switch | sheet |  | V | Switch view | Change between the existing and the proposed view
zoom-in | sheet | zoom-in | + = Ctrl++ Ctrl+= | Zoom in | Show the sheet larger
zoom-out | sheet | zoom-out | - Ctrl+- | Zoom out | Show the sheet smaller
zoom-full |  |  | Ctrl+0 | 100 % | Show the sheet at its own size
fit | sheet | fit | F Home | Fit | Show the whole drawing
fit-selection | sheet |  | Shift+F | Fit selection | Show the selected items as large as possible
grid | check |  | Ctrl+G | Grid | Show the dot grid
snap | check |  | Ctrl+Shift+G | Snap to grid | Put items on the grid; Alt while dragging suspends it
symbols-us | symbols |  | Ctrl+Alt+U | US symbols | Draw with the symbols of United States practice
symbols-iec | symbols |  | Ctrl+Alt+I | IEC symbols | Draw with the shapes of the international standard
theme-system | theme |  | Ctrl+Alt+0 | As the system | Light or dark as the system is set
theme-light | theme |  | Ctrl+Alt+1 | Light | Ink on light paper
theme-dark | theme |  | Ctrl+Alt+2 | Dark | Light ink on a dark sheet; printed pages stay black on white
walk-up | sheet |  | Ctrl+Up | Toward the source | Select the next item toward the source
walk-down | sheet |  | Ctrl+Down | Toward the loads | Select the next item away from the source
walk-left | sheet |  | Ctrl+Left | Neighbor on the left | Select the neighbor on the left fed from the same place
walk-right | sheet |  | Ctrl+Right | Neighbor on the right | Select the neighbor on the right fed from the same place
next-item | sheet |  | Tab | Next item | Select the next item in reading order
previous-item | sheet |  | Shift+Tab | Previous item | Select the item before in reading order
next-pane |  |  | F6 | Next pane | Put the keyboard into the next part of the window
previous-pane |  |  | Shift+F6 | Previous pane | Put the keyboard into the part of the window before
full-screen | check |  | F11 | Full screen | Use the whole screen
@place
connect | sheet | connect | C | Connect | Join two items: drag, click both, or choose with the keys
tie | sheet | tie | X | Suspected tie | Mark a connection nobody has traced; it counts as possibly closed
swap | sheet |  | J | Bolted or conductors | Change the selected line between conductors and a bolted connection
new-work | check | new-work | Ctrl+Shift+N | Draw as new work | Everything put on the sheet from now on is marked new (N)
arrange |  | arrange | Ctrl+L | Arrange | Place all items anew: sources on top, loads below
operate | sheet | operate | O | Open or close | Open or close the selected switch; without one, click the switches
next-finding | sheet |  | N | Next finding | Go to the item of the next finding
previous-finding | sheet |  | Shift+N | Previous finding | Go to the item of the finding before
what-helps |  |  | Ctrl+R | What would help? | Try on a copy what makes findings of the selected item pass
as-if | sheet |  | Shift+O | As if open or closed | Try the next position of the selected switch without changing the drawing
as-if-end |  |  | Ctrl+. | End as if | Show the drawing as it stands; a rehearsal ends
why-live | sheet |  | Q | Why is it live? | Every source that reaches the selected item, and the way from there
outage-new |  |  | Ctrl+U | Plan an outage | A work zone of the selected items: isolation points, switching order, tests
outage-add |  |  | Ctrl+Shift+U | Add to the work zone | Put the selected items into the work zone
outage-less |  |  | Ctrl+Shift+Y | Take out of the work zone | Take the selected items out of the work zone
rehearse |  |  | Ctrl+T | Rehearse | Step through the switching order on the sheet; the drawing is not changed
rehearse-forward |  |  | Alt+PgDown | Forward | Show how it stands after the next step
rehearse-back |  |  | Alt+PgUp | Back | Show how it stood before the last step
set-switches |  |  | Ctrl+Shift+T | Set the switches | Set the drawing's switches as after this step of the order
order-computed |  |  | Ctrl+Shift+L | Computed order | Take back what was rearranged in the switching order
readings |  |  | Ctrl+Shift+R | Enter clamp readings … | Readings of the devices to open, in their order
enter-test |  |  | Ctrl+Shift+V | Enter a test … | A test for absence of voltage: every pair of the card
outage-papers |  |  | Ctrl+Shift+D | Outage papers … | Make the PDF of the switching order, test cards, notice and brief
fits |  |  | Ctrl+H | What fits here? … | The largest load to be added at the selected item, and its limits in order
edition-2017 | edition |  | Ctrl+Alt+6 | 2017 edition | Study the drawing under the 2017 edition of the code
edition-2020 | edition |  | Ctrl+Alt+7 | 2020 edition | Study the drawing under the 2020 edition of the code
edition-2023 | edition |  | Ctrl+Alt+8 | 2023 edition | Study the drawing under the 2023 edition of the code
edition-2026 | edition |  | Ctrl+Alt+9 | 2026 edition | Study the drawing under the 2026 edition of the code
keys |  | help | F1 | Keys | All functions with their keys
about |  |  | Shift+F1 | About and cautions | What this program is, and what it cannot answer for
"""

_GROUPS = ("view", "symbols", "theme", "edition")


@dataclass(frozen=True)
class Command:
    """One function. ``on_sheet``: its keys work while the sheet has the focus. ``group``: exclusive choice it belongs to."""

    key: str
    text: str
    tip: str
    keys: tuple[str, ...] = ()
    icon: str = ""
    on_sheet: bool = False
    check: bool = False
    group: str = ""


def _read(table: str) -> tuple[Command, ...]:
    commands = []
    for line in table.strip().splitlines():
        if line == "@place":
            for p in PLACEABLES:
                tip = f"{p.tip}. With something selected it is put below it, connected"
                commands.append(Command(f"place-{p.key}", p.title, tip, (p.letter,), p.key, on_sheet=True))
            continue
        key, flags, icon, keys, text, tip = (cell.strip() for cell in line.split(" | "))
        marks = flags.split()
        group = next((g for g in _GROUPS if g in marks), "")
        check = bool(group) or "check" in marks
        commands.append(Command(key, text, tip, tuple(keys.split()), icon, "sheet" in marks, check, group))
    return tuple(commands)


COMMANDS: tuple[Command, ...] = _read(_TABLE)

#: Menus by title: keys of commands, "-" for a line, a nested (title, keys) for a submenu.
Entry = str | tuple[str, tuple[str, ...]]
MENUS: tuple[tuple[str, tuple[Entry, ...]], ...] = (
    ("&File", (
        "new", "open", "recent", "sample", "recover", "-", "save", "save-as", "-", "project",
        "import-record", "-", "door", "record", "outage-papers", "export",
        "-", "close", "quit",
    )),
    ("&Edit", (
        "undo", "redo", "-", "cut", "copy", "paste", "duplicate", "delete", "-", "rename", "details",
        ("Mark as", tuple(f"status-{s}" for s in STATUSES)), "-", "select-all", "select-below", "-", "find",
    )),
    ("&View", (
        "view-existing", "view-proposed", "view-switch", "-", "zoom-in", "zoom-out", "zoom-full", "fit",
        "fit-selection", "-", "grid", "snap", ("Symbols", ("symbols-us", "symbols-iec")),
        ("Theme", ("theme-system", "theme-light", "theme-dark")), "-",
        ("Go along the circuit", ("walk-up", "walk-down", "walk-left", "walk-right", "next-item", "previous-item")),
        "panes", "next-pane", "previous-pane", "full-screen",
    )),
    ("&Place", (*(f"place-{p.key}" for p in PLACEABLES), "-", "connect", "tie", "swap", "-", "new-work", "arrange")),
    ("&Study", (
        "operate", "-", "next-finding", "previous-finding", "-", "what-helps", "fits", "-",
        ("Edition of the code", tuple(f"edition-{year}" for year in EDITIONS)),
    )),
    ("&Outage", (
        "as-if", "as-if-end", "why-live", "-", "outage-new", "outage-add", "outage-less", "-", "rehearse",
        "rehearse-forward", "rehearse-back", "set-switches", "order-computed", "-", "readings", "enter-test",
    )),
    ("&Help", ("keys", "about")),
)  # fmt: skip

#: The one row of actions; "*" after a key shows its text too, "|" is a line, ">" pushes the rest to the right.
BAR = (
    "open", "save", "|", "undo", "redo", "|", "connect*", "operate*", "new-work*", "|", "view-existing*",
    "view-proposed*", "|", "fit", "zoom-out", "zoom-in", "arrange", "|", "door*", ">", "find",
)  # fmt: skip
