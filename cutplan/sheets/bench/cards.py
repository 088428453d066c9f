"""The layout cards of a plan: each gate and bay drawn to scale, with what a person sets out by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from markupsafe import Markup

from cutplan.sheets.cautions import AT_THE_SITE
from cutplan.sheets.facts import made_of, squared
from cutplan.sheets.pages import part, share
from cutplan.sheets.words import Writer
from cutplan.takeoff.carried import CarriedCard

WIDE, HIGH = 620, 430  # pixels that a drawing may take
EDGE = 34  # pixels about it, for what is written at its sides
FACE = Fraction(1, 25)  # of the height: a rail's, where the shop file does not give it


@dataclass(frozen=True)
class CardBox:
    """A part of a drawing, in pixels from its upper left corner."""

    kind: str
    x: str
    y: str
    width: str
    height: str


@dataclass(frozen=True)
class Drawing:
    """The elevation of a gate or bay: its parts, a diagonal, and its width and height written below and beside it."""

    label: str
    wide: str
    high: str
    boxes: list[CardBox]
    diagonal: tuple[str, ...]
    below: tuple[str, str, str]
    beside: tuple[str, str, str]


def cards_section(cards: Sequence[CarriedCard], write: Writer) -> Markup:
    """All cards, each whole on its page, and the cautions for the site."""
    if not cards:
        return Markup()
    return part("cards.html", cautions=AT_THE_SITE, cards=[card(one, write) for one in cards])


def card(one: CarriedCard, write: Writer) -> dict[str, object]:
    """What the template shows: the drawing, the rail as a tape with the centre of each picket, and the facts."""
    return {"of": one, "drawing": drawing(one, write), "ticks": [share(mark, one.rail) for mark in one.marks],
            "marks": [write.length(mark) for mark in one.marks], "facts": [*made_of(one, write), *squared(one, write)]}


# ---- the drawing ----


def drawing(one: CarriedCard, write: Writer) -> Drawing:
    """The elevation to scale, from the side on which it is measured: uprights or posts, rails, inserts, pickets."""
    wide = max(one.width, one.opening)
    scale = min(WIDE / float(wide), HIGH / float(one.height))

    def box(kind: str, x: Fraction, y: Fraction, w: Fraction, h: Fraction) -> CardBox:
        """A part from x and, measured up, from y."""
        places = EDGE + float(x) * scale, EDGE + float(one.height - y - h) * scale, float(w) * scale, float(h) * scale
        return CardBox(kind, *(f"{place:.3f}" for place in places))

    left = (wide - one.rail) / 2  # where the rails begin
    top_face, bottom_face = (face or one.height * FACE for face in (one.top_face, one.bottom_face))
    bottom, top = one.below, one.height - one.above - top_face
    middle = (bottom + bottom_face + top) / 2
    boxes = [box("picket", left + mark - one.picket_width / 2, middle - one.picket / 2, one.picket_width, one.picket)
             for mark in one.marks]
    for y, face in ((bottom, bottom_face), (top, top_face)):
        boxes.append(box("rail", left, y, one.rail, face))
        if one.insert is not None:
            boxes.append(box("insert", left + (one.rail - one.insert) / 2, y + face / 4, one.insert, face / 2))
    kind = "side" if one.upright is not None else "post"  # over the rails, which hide in them
    boxes += [box(kind, x, Fraction(0), w, one.height) for x, w in sides(one, wide)]
    w, h = float(wide) * scale, float(one.height) * scale
    return Drawing(
        f"{one.kind} to scale", f"{w + 2 * EDGE:.0f}", f"{h + 2 * EDGE:.0f}", boxes, diagonal(one, wide, scale),
        (f"{EDGE + w / 2:.1f}", f"{h + 2 * EDGE - 10:.1f}", write.length(one.width)),
        (f"{EDGE - 14}", f"{EDGE + h / 2:.1f}", write.length(one.height)))


def sides(one: CarriedCard, wide: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Where the uprights of a gate are, or what of the posts beside a bay the rails go into: x and width."""
    left = (wide - one.rail) / 2
    if one.upright is not None:
        wall = (one.width - one.rail) / 2
        across = one.hidden + wall
        return [(left - wall, across), (left + one.rail + wall - across, across)]
    faces = left + one.hidden, left + one.rail - one.hidden
    return [(faces[0] - one.insertion, one.insertion), (faces[1], one.insertion)] if one.insertion else []


def diagonal(one: CarriedCard, wide: Fraction, scale: float) -> tuple[str, ...]:
    """From the lower left to the upper right corner of what is squared: x1, y1, x2, y2."""
    across = float(one.width) * scale
    x = EDGE + (float(wide) * scale - across) / 2
    y = EDGE + float(one.height - (one.below if one.kind == "bay" else 0)) * scale
    return tuple(f"{place:.2f}" for place in (x, y, x + across, y - float(one.panel_height) * scale))
