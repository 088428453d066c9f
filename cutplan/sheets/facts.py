"""What a gate or bay is made of and how it is set out, as its card says it in the terminal and on the page."""

from __future__ import annotations

from collections.abc import Iterator

from cutplan.lengths import show_sqrt
from cutplan.sheets.gaps import gaps_text
from cutplan.sheets.holes import holes_text
from cutplan.sheets.words import Writer
from cutplan.takeoff.carried import CarriedCard

Fact = tuple[str, str]
MIDDLE = {
    "gap": "all gaps equal", "hole": "the rail's middle on a hole", "space": "the rail's middle between two holes",
}  # fmt: skip
CORNERS = {"gate": "the gate's outer corners", "bay": "the rails' outer corners"}  # between which diagonals go


def made_of(one: CarriedCard, write: Writer) -> Iterator[Fact]:
    """The opening, each kind of part with its number and length, and where the pickets stand."""
    said = write.length
    yield "opening", f"{said(one.opening)} wide, {said(one.height)} high"
    yield "rails", f"2 x {said(one.rail)}, {said(one.hidden)} hidden at each end"
    if one.insert is not None:
        yield "inserts", f"2 x {said(one.insert)}"
    if one.upright is not None:
        yield "uprights", f"2 x {said(one.upright)}"
    trimmed = "trimmed equally at both ends" if one.turned else "trimmed at one end"
    yield "pickets", f"{len(one.marks)} x {said(one.picket)}, {trimmed}"
    gaps = gaps_text(len(one.marks), one.clear, one.gap, one.end_gap, one.max_gap, write)
    yield "gaps", f"{gaps}; {MIDDLE.get(one.centred, '')}"
    if one.pitch:
        yield "holes", holes_text(one.rail, one.pitch, one.centred, one.marks, write)
    if one.plugs:
        yield "plugs", f"{one.plugs}, for the empty holes in sight"


def squared(one: CarriedCard, write: Writer) -> Iterator[Fact]:
    """When it is square, and where the hinges of a gate go."""
    said = write.length
    yield "diagonals", (f"{show_sqrt(one.diagonal_squared, write.unit, write.tape)} each, over {said(one.width)} x "
                        f"{said(one.panel_height)}, {CORNERS.get(one.kind, '')}; square when both are equal")
    if one.kind == "gate":
        for name, rule, up in (
            ("top hinge", "its top in line with the underside of the top rail", one.top_hinge),
            ("bottom hinge", "its bottom in line with the top of the bottom rail", one.bottom_hinge),
        ):
            yield name, ("" if up is None else f"{said(up)} up from where the height is measured: ") + rule
