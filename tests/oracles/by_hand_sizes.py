"""Transformer protection, household loads, electrode and grounding conductors, service ratings once more, exactly, without
anything of the program.

Written from 450.3(B), 220.53 to 220.55, 220.82, 250.66, 250.122 and 230.79 as trade articles restate them; table figures are
written here from the printed tables as far as short, else read from the tables' own files as fractions.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction as F

from by_hand_wiring import read

#: 240.6(A), amperes.
STANDARD = (
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600, 700,
    800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000,
)  # fmt: skip
#: Circular mils, Chapter 9 Table 8.
CMIL = {
    "14": 4110, "12": 6530, "10": 10380, "8": 16510, "6": 26240, "4": 41740, "3": 52620, "2": 66360, "1": 83690,
    "1/0": 105600, "2/0": 133100, "3/0": 167800, "4/0": 211600, "250": 250000, "300": 300000, "350": 350000, "400": 400000,
    "500": 500000, "600": 600000, "700": 700000, "750": 750000, "1000": 1000000,
}  # fmt: skip
#: Table 250.66, copper: largest area of the ungrounded conductors, and the electrode conductor for it.
ELECTRODE = (
    (CMIL["2"], "8"), (CMIL["1/0"], "6"), (CMIL["3/0"], "4"), (350_000, "2"), (600_000, "1/0"), (1_100_000, "2/0"),
    (None, "3/0"),
)  # fmt: skip
#: Table 250.122, copper: largest device, size.
GROUNDING = (
    (15, "14"), (20, "12"), (60, "10"), (100, "8"), (200, "6"), (300, "4"), (400, "3"), (500, "2"), (600, "1"), (800, "1/0"),
    (1000, "2/0"), (1200, "3/0"), (1600, "4/0"), (2000, "250"), (2500, "350"), (3000, "400"), (4000, "500"),
)  # fmt: skip


# --------------------------------------------------------------------------------------------------- transformers
def at_most_share(device: F, share: F, kva: F, volts: F, three_phase: bool, step_up: bool) -> bool:
    """Whether a device is at most a share of the rated current, or the standard rating next above that share.

    Amperes are kVA x 1000 / (V sqrt(3)) on three phases: compared by their squares.
    """
    limit2 = (share * kva * 1000 / volts) ** 2 / (3 if three_phase else 1)
    if device**2 <= limit2:
        return True
    above = next((F(s) for s in STANDARD if F(s) ** 2 >= limit2), None)
    return step_up and above is not None and device <= above


def nine_amperes(kva: F, volts: F, three_phase: bool, amperes: int) -> bool:
    """Whether the rated current is at least so many amperes."""
    return (kva * 1000 / volts) ** 2 >= amperes**2 * (3 if three_phase else 1)


def transformer(
    kva: F, primary_v: F, secondary_v: F, three_phase: bool, primary: F, secondary: F | None
) -> bool:  # fmt: skip
    """450.3(B): primary at 125 % alone (167 % below 9 A, 300 % below 2 A), or 250 % with a secondary of 125 % (167 %)."""
    large = nine_amperes(kva, primary_v, three_phase, 9)
    alone = F(5, 4) if large else F(167, 100) if nine_amperes(kva, primary_v, three_phase, 2) else F(3)
    if at_most_share(primary, alone, kva, primary_v, three_phase, large):
        return True
    if secondary is None or not at_most_share(primary, F(5, 2), kva, primary_v, three_phase, False):
        return False
    large = nine_amperes(kva, secondary_v, three_phase, 9)
    return at_most_share(secondary, F(5, 4) if large else F(167, 100), kva, secondary_v, three_phase, large)


# ------------------------------------------------------------------------------------------------ household loads
def dryers(ratings: Sequence[F]) -> F:
    """Table 220.54: by number; 47 % less 1 % for each above 11 to 23, 35 % less 0.5 % for each above 23 to 42, 25 %."""
    n = len(ratings)
    if n <= 11:
        share = F((0, 100, 100, 100, 100, 85, 75, 65, 60, 55, 50, 47)[n])
    elif n <= 23:
        share = F(47 - (n - 11))
    elif n <= 42:
        share = 35 - F(n - 23, 2)
    else:
        share = F(25)
    return share / 100 * sum(ratings, F(0))


def cell(n: int, column: str) -> F:
    """Table 220.55: percent of columns A and B, VA of column C."""
    row = next(r for r in read("t220_55_ranges") if int(r["n_min"]) <= n and (not r["n_max"] or n <= int(r["n_max"])))
    if column != "C":
        return F(row[f"{column}_percent"])
    kw = 15 + F(n) if 26 <= n <= 40 else 25 + F(3, 4) * n if n > 40 else F(row["C_kW"])
    return kw * 1000


def major(kilowatts: F) -> int:
    """Whole kilowatts and a major fraction, half and more."""
    whole = kilowatts.numerator // kilowatts.denominator
    return whole + (kilowatts - whole >= F(1, 2))


def column_c(ratings: Sequence[F]) -> F:
    """Notes 1 and 2: 5 % for each kW of the average above 12 kW, less than 12 kW taken as 12."""
    average = sum((max(r, F(12_000)) for r in ratings), F(0)) / len(ratings)
    return cell(len(ratings), "C") * (1 + F(5, 100) * major((average - 12_000) / 1000))


def cooking(ratings: Sequence[F]) -> F:
    """Table 220.55, column C or by note 3 columns A and B for the small ones, whichever is less."""
    listed = [r for r in ratings if 1_750 < r <= 27_000]
    rest = sum((r for r in ratings if not 1_750 < r <= 27_000), F(0))
    if not listed:
        return rest
    a = [r for r in listed if r < 3_500]
    b = [r for r in listed if 3_500 <= r <= 8_750]
    large = [r for r in listed if r > 8_750]
    by_note_3 = sum(
        (cell(len(part), name) / 100 * sum(part, F(0)) for part, name in ((a, "A"), (b, "B")) if part), F(0)
    )  # fmt: skip
    if large:
        by_note_3 += column_c(large)
    return rest + min(column_c(listed), by_note_3)


def one_dwelling(general: F, cooling: F, heating: F, units: int, apart: bool) -> F:
    """220.82: 10 kVA in full, 40 % of the rest; heating at 65 %, at 40 % from four units on; of both the larger where they do
    not run together."""
    heat = heating * (F(2, 5) if units >= 4 else F(65, 100))
    both = max(cooling, heat) if apart else cooling + heat
    return min(general, F(10_000)) + F(2, 5) * max(general - 10_000, F(0)) + both


# ---------------------------------------------------------------------------------------------------- conductors
def electrode(cmil: int) -> str:
    return next(size for most, size in ELECTRODE if most is None or cmil <= most)


def tap_grounding(feeder_a: int, conductor: str) -> str:
    """250.122(G): by the feeder's device, never larger than the tap conductors."""
    size = next(s for most, s in GROUNDING if feeder_a <= most)
    return size if CMIL[size] <= CMIL[conductor] else conductor


def service(ratings: Sequence[F | None], load: F) -> str:
    """230.79, 230.80: the disconnects together carry the load, and are 60 A at least, below which few circuits decide."""
    known = sum((r for r in ratings if r is not None), F(0))
    complete = None not in ratings
    if known >= load and known >= 60:
        return "pass"
    if not complete:
        return "unknown"
    return "fail" if known < load else "judge"
