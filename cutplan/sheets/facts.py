"""What a gate or bay is made of, how it is set out, put together and hung, in the order in which a person builds.

The terminal and the page say the same. Everything here is read off the placed parts of a card.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import places, show_sqrt
from cutplan.sheets.gaps import gaps_text
from cutplan.sheets.holes import holes_text
from cutplan.sheets.slopes import set_in_text, slope_text
from cutplan.sheets.words import Writer
from cutplan.shop.figures import weight_text
from cutplan.shop.systems import RAILS
from cutplan.takeoff.assembly import Outline, Part, diagonals_squared
from cutplan.takeoff.cards import Card
from cutplan.takeoff.hanging import Hanging, gaps_beside, swing_squared
from cutplan.takeoff.hardware import Fitting

MIDDLE = {
    "gap": "all gaps equal", "hole": "the rail's middle on a hole", "space": "the rail's middle between two holes",
}  # fmt: skip
CORNERS = {"gate": "the gate's outer corners", "bay": "the rails' outer corners",
           "run": "the outer corners of the rails of each bay"}  # between which diagonals go
SWING_PLACES = {"in": 3, "mm": 1}
OPPOSITE = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Fact:
    """A thing to know and what it is called; `marks` are places along a rail, to be read one by one."""

    name: str
    said: str
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chapter:
    """What belongs to one step of the work."""

    title: str
    facts: list[Fact]


def chapters(card: Card, write: Writer) -> list[Chapter]:
    """All of a card's facts; chapters without any are left out."""
    found = [
        Chapter("Make", [*size(card, write), *made_of(card, write)]),
        Chapter("Set out", [*set_out(card, write)]),
        Chapter("Put together", [*put_together(card), *squared(card, write)]),
        Chapter("Hang", [*hung(card, write)]),
        Chapter("Hardware", [Fact(one.name, fitting_text(one)) for one in card.hardware]),
        Chapter("Also listed for it", [*listed(card, write)]),
        Chapter("Weather", [Fact("", said) for said in card.movement]),
        Chapter("Take care", [Fact("", said) for said in card.cautions]),
    ]
    return [chapter for chapter in found if chapter.facts]


def fitting_text(one: Fitting) -> str:
    """How many for one gate or bay, the drill for it, and what else the shop file says."""
    where = f"{one.count}, {one.each} for each {one.per}" if one.count > one.each else str(one.count)
    return "; ".join(filter(None, (where, one.pilot and f"pilot hole {one.pilot}", one.note)))


def listed(card: Card, write: Writer) -> Iterator[Fact]:
    """The pieces listed for it: all of them, where the other counts are of one gate, bay or run."""
    total = f", for all {card.qty} {card.kind}s" if card.qty > 1 else ""
    for one in card.extra:
        yield Fact(one.mark, f"{one.qty} x {write.length(one.length)}{set_in_text(one, write)}, {one.profile}{total}")


# ---- make ----


def size(card: Card, write: Writer) -> Iterator[Fact]:
    said = write.length
    leaning = "" if card.opening_bottom in (None, card.opening) else (
        f" at the top, {said(card.opening_bottom)} at the bottom")
    if card.rake:
        yield Fact("opening", f"{said(card.opening)} wide, level; {said(card.height)} high, plumb, from the ground or "
                              "the line of the nosings")
        yield Fact("rake", f"{slope_text(abs(card.rake), write)} from level, "
                           f"{'rising' if card.rake > 0 else 'falling'} to the right")
    else:
        yield Fact("opening", f"{said(card.opening)} wide{leaning}, {said(card.height)} high from "
                              f"the {'higher' if slopes(card) else 'finished'} ground")
    wide, high = spread(card.squared[0])
    if card.kind == "run":
        yield from bays(card, write)
    each = "each leaf " if card.leaves == 2 else "each bay " if card.kind == "run" else ""
    over = "over its uprights" if card.kind == "gate" else "over the outer edges of its rails"
    if card.kind == "bay" and leaning:
        over += ", at the wide end"
    size = f"{said(wide)} level x {said(high)} plumb" if card.rake else f"{said(wide)} x {said(high)}"
    yield Fact("make size", f"{each}{size}, {over}")


def bays(card: Card, write: Writer) -> Iterator[Fact]:
    """How a run is divided by its posts."""
    edges = post_edges(card)
    clear = card.layout.clear
    between = f" between posts {write.length(edges[0][1] - edges[0][0])} wide" if edges else ", without a post"
    ends = "with end posts of its own" if edges and edges[0][0] == 0 else "between two walls"
    yield Fact("bays", f"{len(card.squared)} of {write.length(clear)} each{between}; {ends}")


def post_edges(card: Card) -> list[tuple[Fraction, Fraction]]:
    """The posts of a run, each from face to face."""
    return [(post.left + shift, post.right + shift) for post in card.of("post") for shift in post.shifts]


def made_of(card: Card, write: Writer) -> Iterator[Fact]:
    """Each kind of part with its number and length, of all leaves together."""
    for name in (*RAILS, "insert", "picket", "upright", "brace", "post"):
        found: dict[tuple[str, str, Fraction], list[Part]] = {}
        alike = card.of(name)
        many = len({part.length for part in alike}) > 1
        for part in alike:
            found.setdefault((part.called if many else name, part.profile, part.length), []).append(part)
        for (called, profile, length), parts in found.items():
            count = sum(part.count for part in parts)
            yield Fact(called if count == 1 else f"{called}s",
                       f"{count} x {write.cut(length, parts[0].rounded)}, {profile}" + cut_how(card, parts[0], write))
    if card.hanging and not card.of("upright"):
        _, high = extent(card.squared[0])
        yield Fact("uprights", f"{2 * card.leaves}, {write.length(high)} long: the shop file cuts none, have your own")


def cut_how(card: Card, part: Part, write: Writer) -> str:
    """What is to be known of a part before it is cut."""
    if part.part in RAILS:
        level, short = ", level" * bool(card.rake), card.posts - card.hidden if card.posts else Fraction(0)
        room = f", {write.length(short)} short of the end of its pocket" if short else ""
        how = f"; {plumb_ends(part, write)}" if card.rake else ""
        return f"{how}; {write.length(card.hidden)} hidden at each end{room}{level}"
    if part.part == "insert" and card.rake:
        square = "square ends: see that no corner stands out of the rail's plumb end"
        return f"; {plumb_ends(part, write) if part.left_in else square}"
    if part.part == "picket":
        return (", square ends" if card.rake else "") + (", trimmed equally at both ends" if card.turned else "")
    if part.part == "brace":
        return ", rounded up: its ends are scribed in place"
    if part.part == "post":
        foot, ground, top = post_heights(part)
        below = f", {write.length(ground - foot)} below" if ground > foot else ", nothing below"
        return f": {write.length(top - ground)} above the ground{' at its lower face' * bool(card.rake)}{below}"
    return ""


def plumb_ends(part: Part, write: Writer) -> str:
    """How the ends of a raked part are cut."""
    side = "left" if part.rake > 0 else "right"
    return (f"ends cut plumb, {slope_text(abs(part.rake), write)} off square, each bottom corner "
            f"{write.length(abs(part.left_in))} further {side} along it than the top one")


def post_heights(post: Part) -> tuple[Fraction, Fraction, Fraction]:
    """Of the first of these posts: its foot, the lowest ground at it, its top."""
    xs, ys = zip(*post.outline, strict=True)
    return min(ys), min(post.rake * x for x in xs), max(ys)


# ---- set out ----


def set_out(card: Card, write: Writer) -> Iterator[Fact]:
    if edges := post_edges(card):
        level = ", level" if card.rake else ""
        yield Fact("posts at", f"left faces from the run's left end{level}:",
                   tuple(write.length(left) for left, _ in edges))
        if card.rake:
            yield Fact("posts along", "the same along the rake:",
                       tuple(write.along(left, card.rake) for left, _ in edges))
    yield from rails_at(card, write)
    layout = card.layout
    for rails, marks in picket_marks(card):
        where = "a rail's end" if rails == "rails" else f"the end of the {rails}"
        if card.rake:
            yield Fact("picket marks", "centres along an edge of each rail, from its left end:",
                       tuple(write.along(mark, card.rake) for mark in marks))
            where += ", level"
        yield Fact("level marks" if card.rake else "picket marks", f"centres from {where}:",
                   tuple(map(write.length, marks)))
    gaps = gaps_text(layout.count, layout.clear, layout.gap, layout.end_gap, card.max_gap, write)
    middle = MIDDLE.get(layout.centred, "")
    if layout.splay:
        at_ends = "at the ends" if layout.count else "clear"
        gaps += f"; {write.length(layout.wide_end_gap)} {at_ends} where the opening is wider, if both posts lean alike"
        if layout.centred == "gap":
            middle = "the gaps between pickets are equal" if layout.count > 2 else ""
    raked = f"measured level, {write.along(layout.gap, card.rake)} along a rail" if card.rake else ""
    yield Fact("gaps", "; ".join(filter(None, (gaps, middle if layout.count else "", raked))))
    yield from holes(card, write)
    if card.plugs:
        yield Fact("plugs", f"{card.plugs}, for the empty holes in sight")
    if card.of("picket") and all(rail.sized for rail in card.of(*RAILS)):
        sit = [seated(card.seat, write), *slanting(card, write), *comes_out(card, write)]
        yield Fact("pickets sit", "; ".join(sit))
    yield from inserts_at(card, write)


def holes(card: Card, write: Writer) -> Iterator[Fact]:
    """The holes of the rails that have some, of all at once where they agree."""
    layout, leaf = card.layout, card.first
    if not layout.pitch:
        return
    rows = card.of("picket", leaf=leaf)
    centres = [(rows[0].left + rows[0].right) / 2 + shift for shift in rows[0].shifts] if rows else []
    rails = [rail for rail in card.of(*RAILS, leaf=leaf) if rail.part in (card.holed or RAILS)]
    found = {rail.called: holes_text(rail.right - rail.left, layout.pitch, layout.centred,
                                     [centre - rail.left for centre in centres], write) for rail in rails}
    if len(set(found.values())) == 1:
        yield Fact("holes", next(iter(found.values())))
    else:
        for rail, said in found.items():
            yield Fact("holes", f"of the {rail}: {said}")


def rails_at(card: Card, write: Writer) -> Iterator[Fact]:
    """How high each rail is: on the uprights from their foot, and from the ground."""
    for rail in sorted(card.of(*RAILS, leaf=card.first), key=lambda one: -one.low):
        said = [f"{edge_text(rail, rail.low - zero, rail.high - zero, write)} {where}" for where, zero in zeros(card)]
        yield Fact(f"{rail.called} at", "; ".join(said))


def slopes(card: Card) -> bool:
    return card.hanging is not None and card.hanging.fall > 0


def zeros(card: Card) -> Iterator[tuple[str, Fraction]]:
    """From where a height is measured, and how high that is: an upright's foot where it is not the ground, the ground.
    """
    if card.hanging and (card.hanging.foot or card.hanging.fall):
        yield "up the uprights", card.hanging.foot
    ground = "above the ground" + " straight below" * bool(card.rake)
    yield "above the higher ground" if slopes(card) else ground, Fraction(0)


def height_text(card: Card, heights: Sequence[Fraction], write: Writer) -> str:
    """Heights, each from the uprights' feet and from the ground."""
    return "; ".join(f"{', '.join(write.length(up - zero) for up in heights)} {where}" for where, zero in zeros(card))


def edge_text(rail: Part, low: Fraction, high: Fraction, write: Writer) -> str:
    """Both edges of a rail; of one whose face is not known, the edge that the shop file places."""
    if rail.sized:
        return f"{write.length(low)} to {write.length(high)}"
    return f"its upper edge {write.length(high)}" if rail.part == "top rail" else f"its lower edge {write.length(low)}"


def picket_marks(card: Card) -> Iterator[tuple[str, tuple[Fraction, ...]]]:
    """The centres of the pickets from the end of each rail; of all rails at once where they agree."""
    leaf = card.first
    rows = card.of("picket", leaf=leaf)
    if not rows:
        return
    middle = (rows[0].left + rows[0].right) / 2
    found = {rail.called: tuple(middle + shift - rail.left for shift in rows[0].shifts)
             for rail in card.of(*RAILS, leaf=leaf)}
    if len(set(found.values())) == 1:
        yield "rails", next(iter(found.values()))
    else:
        yield from found.items()


def seated(seat: Fraction, write: Writer) -> str:
    if seat > 0:
        return f"{write.length(seat)} deep in each rail"
    short = write.length(-seat)
    return "between the rails, just meeting them" if not seat else (
        f"between the rails, {'less than a mark of the tape' if short == '~0' else short} short of each")


def slanting(card: Card, write: Writer) -> Iterator[str]:
    """Along a rake, how much less deep a picket with square ends sits at one side."""
    if less := rise_across(card):
        least = card.seat - less
        yield (f"that is in their middles, and at the shallow side {write.length(least)}" if least >= 0 else
               f"that is in their middles, and a square end leaves a wedge of {write.length(-least)} at its shallow "
               "side: cut the ends to the rake there")


def rise_across(card: Card) -> Fraction:
    """How much a rake rises from the middle of a picket to its side."""
    row = card.of("picket", leaf=card.first)[0]
    return abs(card.rake) * (row.right - row.left) / 2


def comes_out(card: Card, write: Writer) -> Iterator[str]:
    """By how much the pickets come out of the far side of the outer rails."""
    for rail in card.of("top rail", "bottom rail", leaf=card.first):
        out = card.seat + rise_across(card) - (rail.high - rail.low)
        if out > 0:
            yield f"they go right through the {rail.part} and stand {write.length(out)} out of it"


def inserts_at(card: Card, write: Writer) -> Iterator[Fact]:
    """Inside which rails inserts lie, and how far back from their ends."""
    leaf = card.first
    inside: dict[Fraction, list[str]] = {}
    for one in card.of("insert", leaf=leaf):
        (rail,) = [rail for rail in card.of(*RAILS, leaf=leaf) if rail.called == one.place]
        inside.setdefault((rail.length - one.length) / 2, []).append(one.place)
    for back, rails in inside.items():
        counts = [f"{rails.count(rail)} in the {rail}" for rail in dict.fromkeys(rails)]
        ends = f"{write.length(back)} back from" if back else "flush with"
        yield Fact("inserts lie", f"{', '.join(counts)}; their ends {ends} the rail's ends")


# ---- put together ----


def put_together(card: Card) -> Iterator[Fact]:
    """The steps, as the shop file says or as parts like these are usually put together."""
    for k, step in enumerate(card.assembly or usual_steps(card), start=1):
        yield Fact(f"step {k}", step)


def usual_steps(card: Card) -> Iterator[str]:
    gate, mid = card.kind == "gate", card.of("mid rail", leaf=card.first)
    rows = len({part.place for part in card.of("picket")})
    if card.of("insert"):
        yield "Push the inserts into their rails."
    if rows:
        yield f"Mark the rails for the pickets{' along their edges' * bool(card.rake)}, from one end."
    if not rows:
        yield "Lay out the rails in their order, from the bottom rail to the top rail."
    elif mid and rows < 2:
        rails = "mid rail" if len(mid) == 1 else "mid rails"
        yield f"Set the pickets in the bottom rail, slide the {rails} over them, and put on the top rail."
    elif mid:
        yield "Set a row of pickets in the bottom rail, put the next rail on it, and so on up to the top rail."
    else:
        yield "Set the pickets in the bottom rail and put on the top rail."
    if gate:
        yield "Put the uprights on the rails' ends, with each rail at its height."
        yield "Square it by its diagonals, then fix the corners."
    else:
        true = "both diagonals are as told" if card.rake else "the diagonals are equal"
        yield f"Put the rails into the posts, alike at both ends, and fix them when {true}."
    if card.of("brace"):
        yield "Lay the brace over its two corners, scribe both ends to the frame, cut them and fix it."


def squared(card: Card, write: Writer) -> Iterator[Fact]:
    outline = card.squared[0]
    wide, high = spread(outline)
    over = f"{write.length(wide)} x {write.length(high)}, " if card.opening_bottom is None or card.leaves else ""
    corners = "the outer corners of each leaf" if card.leaves == 2 else CORNERS.get(card.kind, "")
    one, other = (show_sqrt(square, write.unit, write.tape) for square in diagonals_squared(outline))
    yield Fact("diagonals", f"{one} from the lower left corner to the upper right, {other} from the lower right to the "
                            f"upper left, between {corners}; true when both are so" if card.rake else
                            f"{one} each, over {over}{corners}; square when both are equal")
    for brace in card.of("brace", leaf=1):
        yield Fact("brace lies", brace_text(card, brace, write))


def brace_text(card: Card, brace: Part, write: Writer) -> str:
    """Which way a brace lies, and its angle."""
    rises = brace.outline[0][1] == brace.outline[1][1]  # its first two corners lie along the bottom
    wide, high = extent(brace.outline)
    from_bottom = rises == (card.hanging is not None and card.hanging.side != "right")
    far = "where the leaves meet" if card.leaves == 2 else "at the latch"
    way = (f"from the bottom corner at the hinges up to the top corner {far}, in compression" if from_bottom else
           f"from the top corner at the hinges down to the bottom corner {far}, in tension")
    mids = len(card.of("mid rail", leaf=1))
    under = ["the pickets"] if card.of("picket") else []
    under += ["the mid rail" if mids == 1 else "the mid rails"][:mids]
    over = f", over {' and '.join(under)}" if under else ""
    return (f"{way}; {degrees(wide, high)} from level, {write.length(wide)} across and {write.length(high)} up; "
            f"on the face of the frame{over}")


def degrees(run: Fraction, rise: Fraction) -> str:
    return f"~{math.degrees(math.atan2(rise, run)):.2f} deg"


# ---- hang ----


def hung(card: Card, write: Writer) -> Iterator[Fact]:
    one = card.hanging
    if one is None:
        return
    latch = "" if one.latch is None else f"; latch {latch_text(card, one.latch, write)}"
    sides = ("a leaf on each side, meeting in the middle" if one.side == "both" else
             f"hinges on the {one.side}, latch on the {OPPOSITE[one.side]}, seen from where it was measured")
    yield Fact("hung", f"{sides}{latch}")
    yield from hinges_at(card, one, write)
    yield Fact("gaps beside", beside_text(card, one, write))
    width, reach = swing_squared(card.squared[0], one.thickness)
    as_wide = "" if one.measured else ", if it is as thick as its uprights are wide"
    yield Fact("swing", f"the far corner swings {beyond(width, reach, write.unit)} beyond the leaf's width "
                        f"(leaf {write.length(one.thickness)} thick{as_wide})")
    if one.fall:
        low = f", {write.length(one.foot + one.fall)} at the {one.low_side}, where it is lower"
        yield Fact("ground", f"{write.length(one.foot)} clear under the uprights where the ground is higher{low}")
    elif one.foot:
        yield Fact("ground", f"{write.length(one.foot)} clear under the uprights")
    if one.weight is not None:
        least, known = "" if one.whole else "at least ", weight_text(one.weight, write.unit, one.whole)
        yield Fact("weight", f"{least}{known}{' a leaf' if card.leaves == 2 else ''}, without hardware"
                             f"{'' if one.whole else ' and parts of unknown weight'}")


def latch_text(card: Card, latch: Fraction, write: Writer) -> str:
    """Its height; up the uprights only where they reach so far."""
    if latch <= card.squared[0][-1][1]:
        return height_text(card, [latch], write)
    where, zero = list(zeros(card))[-1]
    return f"{write.length(latch - zero)} {where}"


def hinges_at(card: Card, one: Hanging, write: Writer) -> Iterator[Fact]:
    if not one.by_rails and one.hinges:
        yield Fact("hinges", f"their middles {height_text(card, one.hinges, write)}")
        return
    low, high = [f"{height_text(card, [up], write)}: " for up in one.hinges] if one.hinges else ("", "")
    yield Fact("top hinge", f"{high}its top in line with the underside of the top rail")
    yield Fact("bottom hinge", f"{low}its bottom in line with the top of the bottom rail")


def beside_text(card: Card, one: Hanging, write: Writer) -> str:
    """Between post and leaf on each side, and between two leaves; at the wide end of the opening as well."""
    gaps = gaps_beside(card.opening, card.opening_bottom, card.squared)
    if card.leaves == 2:
        ends = {"hinges": gaps[0]}
        said = [f"{write.length(gaps[0][0])} at the hinges of each leaf",
                f"{write.length(gaps[1][0])} between the leaves"]
    else:
        ends = dict(zip(("hinges", "latch") if one.side == "left" else ("latch", "hinges"), gaps, strict=True))
        said = [f"{write.length(narrow)} at the {name}" for name, (narrow, _) in ends.items()]
    if card.opening_bottom not in (None, card.opening):
        end = "top" if card.opening > card.opening_bottom else "bottom"
        wide = " and ".join(f"{write.length(wide)} at the {name}" for name, (_, wide) in ends.items())
        said.append(f"at the {end}, where the opening is wider, {wide}, if both posts lean alike")
    return "; ".join(said)


def beyond(width: Fraction, reach_squared: Fraction, unit: str) -> str:
    """The root less the width, to the nearest thousandth of an inch or tenth of a millimetre."""
    fine = 10**6
    reach = Fraction(math.isqrt(math.floor(reach_squared * fine**2)), fine)
    return f"~{places(reach - width, SWING_PLACES[unit])} {unit}"


def spread(outline: Outline) -> tuple[Fraction, Fraction]:
    """The width over what is squared, and its height at its side."""
    return extent(outline)[0], outline[3][1] - outline[0][1]


def extent(outline: Outline) -> tuple[Fraction, Fraction]:
    xs, ys = zip(*outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)

