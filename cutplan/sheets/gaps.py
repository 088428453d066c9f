"""The gaps of a layout card in words."""

from __future__ import annotations

from fractions import Fraction

from cutplan.sheets.words import Writer


def gaps_text(count: int, clear: Fraction, gap: Fraction, end_gap: Fraction, widest: Fraction | None,
              write: Writer) -> str:
    """The gaps of so many pickets; `widest` is the system's max_gap (None: not known), which a pitch may exceed."""
    said = write.length
    if not count:
        return f"none, for there are no pickets: {said(clear)} clear"
    ends = f"{said(end_gap)} at the ends of {said(clear)} clear"
    if count == 1:
        return ends
    over = f" (the holes' pitch makes it so: max_gap is {said(widest)})" if widest is not None and gap > widest else ""
    return f"{said(gap)} between pickets{over}, {ends}"
