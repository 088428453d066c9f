"""The layout cards of a plan: each gate and bay drawn to scale from its outlines, with what a person builds by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from markupsafe import Markup

from cutplan.sheets.cautions import AT_THE_SITE
from cutplan.sheets.facts import chapters, extent
from cutplan.sheets.pages import part, share
from cutplan.sheets.words import Writer
from cutplan.takeoff.assembly import Outline, box
from cutplan.takeoff.cards import Card

WIDE, HIGH = 400, 250  # pixels that a drawing may take
EDGE = 34  # pixels about it, for what is written at its sides
# the last lie in front
BEHIND = ("picket", "top rail", "mid rail", "bottom rail", "insert", "upright", "post", "brace")
LOOKS = {"top rail": "rail", "mid rail": "rail", "bottom rail": "rail", "upright": "side", "post": "side"}
FIGURE_WIDE, TICK = 8, 8  # pixels: the most that a letter of a mark takes, and how long its tick is
CLOSEST = 15  # pixels between two marks, below which their figures would meet
MANY = 150  # marks of pickets on a card, where each rail has its own: they are written smaller, to be on one page
HINGE = Fraction(1, 30)  # of the height: how high a hinge or a latch is drawn, as a mark and to no scale


@dataclass(frozen=True)
class DrawnShape:
    """A part of a drawing: how it looks, and its corners in pixels as SVG has them."""

    look: str
    points: str


@dataclass(frozen=True)
class DrawnMark:
    """A place to set out by: its tick from y to y, and its figure, read upwards: its `anchor`, start or end, at `foot`.
    """

    x: str
    tick: tuple[str, str]
    foot: str
    anchor: str
    said: str


@dataclass(frozen=True)
class Drawing:
    """The elevation of a gate or bay: its parts, a diagonal of each leaf or both of a raked bay, the ground, its width
    and height written, and where the posts of a run stand."""

    label: str
    wide: str
    high: str
    shapes: list[DrawnShape]
    diagonals: list[tuple[str, ...]]
    ground: tuple[str, ...]
    below: tuple[str, str, str]
    beside: tuple[str, str, str]
    marks: list[DrawnMark]


def cards_section(cards: Sequence[Card], write: Writer) -> Markup:
    """All cards, each whole on its page, and the cautions for the site."""
    if not cards:
        return Markup()
    reminders = dict.fromkeys(reminder for card in cards for reminder in card.reminders)
    numbers = {reminder: k for k, reminder in enumerate(reminders, start=1)}
    return part("cards.html", cautions=AT_THE_SITE, reminders=list(reminders),
                cards=[card_shown(one, numbers, write) for one in cards])


def card_shown(one: Card, numbers: Mapping[str, int], write: Writer) -> dict[str, object]:
    """What the template shows: the drawing, the rail as a tape with the centre of each picket, and the facts."""
    rail = one.layout.clear + 2 * one.hidden
    told = chapters(one, write)
    marks = sum(len(fact.marks) for chapter in told for fact in chapter.facts)
    return {"of": one, "drawing": drawing(one, write), "chapters": told, "dense": marks > MANY,
            "reminders": ", ".join(str(numbers[reminder]) for reminder in one.reminders),
            "ticks": [share(mark, rail) for mark in one.layout.marks]}


# ---- the drawing ----


def drawing(one: Card, write: Writer) -> Drawing:
    """The elevation to scale, from the side on which it is measured."""
    outlines = [(LOOKS.get(part.part, part.part), outline) for name in BEHIND for part in one.of(name)
                for outline in part.outlines()]
    outlines += [("post", outline) for outline in posts(one)]
    outlines += [("fitting", outline) for outline in fittings_at(one)]
    fall, low_side = (one.hanging.fall, one.hanging.low_side) if one.hanging else (Fraction(0), "")
    xs = [Fraction(0), one.opening, *(x for _, outline in outlines for x, _ in outline)]
    left, right = min(xs), max(xs)
    ends = [one.rake * x - (fall if low_side == side else 0) for side, x in (("left", left), ("right", right))]
    ys = [*ends, *([] if one.rake else [one.height]), *(y for _, outline in outlines for _, y in outline)]
    low, top = min(ys), max(ys)
    scale = min(WIDE / float(right - left), HIGH / float(top - low))
    wide, high = float(right - left) * scale, float(top - low) * scale
    figures = [*marks_at(one, scale, write)]
    above, under = (max((len(said) * FIGURE_WIDE + TICK for *_, over, said in figures if over == side), default=0)
                    for side in (True, False))

    def at(x: Fraction, y: Fraction) -> tuple[str, str]:
        return f"{EDGE + float(x - left) * scale:.3f}", f"{EDGE + above + float(top - y) * scale:.3f}"

    def points(outline: Outline) -> str:
        return " ".join(",".join(at(*point)) for point in outline)

    over, up = extent(one.squared[0])
    whole = high + 2 * EDGE + above + under
    return Drawing(
        f"{one.kind} to scale", f"{wide + 2 * EDGE:.0f}", f"{whole:.0f}",
        [DrawnShape(look, points(outline)) for look, outline in outlines],
        [(*at(*outline[k]), *at(*outline[k + 2])) for outline in one.squared for k in range(1 + bool(one.rake))],
        (*at(left, ends[0]), *at(right, ends[1])),
        (at((right + left) / 2, top)[0], f"{whole - 10:.1f}",
         f"{'each leaf ' if one.leaves == 2 else 'each bay ' if one.kind == 'run' else ''}{write.length(over)}"
         + " level" * bool(one.rake)),
        (f"{EDGE - 14}", at(left, ends[0] + one.height / 2 if one.rake else (top + low) / 2)[1],
         write.length(up if one.kind == "gate" else one.height)),
        [drawn_mark(*at(x, y if over else low), over, said) for x, y, over, said in figures])


def marks_at(one: Card, scale: float, write: Writer) -> Iterator[tuple[Fraction, Fraction, bool, str]]:
    """Where the left face and the top of each post of a run are, and its figures from the run's left end: level, to
    stand under the drawing, and along a rake, to stand over the post. None where they would stand too close."""
    found = sorted((outline[3] for post in one.of("post") for outline in post.outlines()), key=lambda corner: corner[0])
    if any(float(after - before) * scale < CLOSEST for (before, _), (after, _) in pairwise(found)):
        return
    for x, y in found:
        yield x, y, False, write.length(x)
        if one.rake:
            yield x, y, True, f"{write.along(x, one.rake)} along"


def drawn_mark(x: str, y: str, over: bool, said: str) -> DrawnMark:
    """A figure over what it marks, or under it."""
    up = float(y)
    ends = (up - TICK, up) if over else (up, up + TICK)
    foot = ends[0] - 2 if over else ends[1] + 2
    return DrawnMark(x, (f"{ends[0]:.3f}", f"{ends[1]:.3f}"), f"{foot:.3f}", "start" if over else "end", said)


def posts(one: Card) -> Iterator[Outline]:
    """What of the posts beside a bay its rails go into; they stand already. A run with end posts has none."""
    if not one.posts or any(post.left == 0 for post in one.of("post")):
        return
    lean = Fraction(0) if one.opening_bottom is None else (one.opening - one.opening_bottom) / 2
    nil, wide, high = Fraction(0), one.opening, one.height
    if one.rake:
        up = one.rake * wide
        yield box(-one.posts, nil, nil, high)
        yield box(wide, up, wide + one.posts, up + high)
        return
    yield (lean - one.posts, nil), (lean, nil), (nil, high), (-one.posts, high)
    yield (wide - lean, nil), (wide - lean + one.posts, nil), (wide + one.posts, high), (wide, high)


def fittings_at(one: Card) -> Iterator[Outline]:
    """Marks where hinges and latch sit, in the gaps beside the leaves."""
    hung = one.hanging
    if hung is None:
        return
    (left, right), tall = gap_middles(one), one.height * HINGE
    sides = {"left": [left], "right": [right], "both": [left, right]}[hung.side]
    low, high = hung.hinges[0] if hung.hinges else None, hung.hinges[-1] if hung.hinges else None
    for x in sides:
        for up in hung.hinges or ():
            middle = up
            if hung.by_rails:  # the lower one stands on its height, the upper one hangs from it
                middle = up + tall / 2 if up == low else up - tall / 2 if up == high else up
            yield box(x - tall / 4, middle - tall / 2, x + tall / 4, middle + tall / 2)
    if hung.latch is not None:
        meeting = one.squared[-1][0][0] + one.squared[0][1][0]  # of two leaves: twice the middle between them
        x = meeting / 2 if hung.side == "both" else right if hung.side == "left" else left
        yield box(x - tall / 2, hung.latch - tall / 4, x + tall / 2, hung.latch + tall / 4)


def gap_middles(one: Card) -> tuple[Fraction, Fraction]:
    """The middles of the gaps between the posts and the leaves, at the top of the opening."""
    first, last = one.squared[0][0][0], one.squared[-1][1][0]
    return first / 2, (last + one.opening) / 2
