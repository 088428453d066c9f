"""The holes of a routed rail on its layout card, numbered as they are where its stick is cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from cutplan.sheets.tape import middle_words
from cutplan.sheets.words import Writer


def holes_text(rail: Fraction, pitch: Fraction, centred: str, marks: Sequence[Fraction], write: Writer) -> str:
    """Where hole 1 is, which holes the first and the last picket stand in, and what the rail's middle is at.

    From the card alone: the holes lie evenly about the rail's middle; hole 1 is the first whose centre is on the rail.
    """
    inner = Fraction(0) if centred == "hole" else pitch / 2  # from the middle to the nearest hole
    before = math.floor((rail / 2 - inner) / pitch)  # holes on the rail before that one
    first = rail / 2 - inner - before * pitch
    if first < 0:
        return "no hole's centre is on the rail"
    stand = [1 + int((mark - first) / pitch) for mark in marks]
    pickets = "no picket"
    if stand:
        pickets = f"pickets in holes {stand[0]} to {stand[-1]}" if len(stand) > 1 else f"a picket in hole {stand[0]}"
    return f"hole 1 is {write.length(first)} from the rail's end; {pickets}; {middle_words(centred, before + 1)}"
