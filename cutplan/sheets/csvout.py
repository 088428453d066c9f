"""The takeoff and the plan as CSV. Lengths are exact: a decimal, or "p/q" where none is finite."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from cutplan.lengths import exact_decimal
from cutplan.orders import Piece, origins_text
from cutplan.plans.plan import Numbered, Plan, numbered
from cutplan.sheets.clamps import CLAMP, FALL, HAND_SAW, care
from cutplan.sheets.tape import marked, squared_end
from cutplan.tables import safe, table, yes_or_no

PIECES_CSV = ("mark", "profile", "length", "qty", "for")
CUTS_CSV = (
    "profile", "stick", "count", "stock_length", "source", "tag", "price",
    "cut", "mark", "length", "start", "end", "offcut", "keep", "clamp", "centred", "turned", "number", "offcut_tags",
    "squared_off", "cut_off", "first_hole", "middle_hole", "let_fall", "hand_saw",
)  # fmt: skip


def pieces_csv(pieces: Iterable[Piece]) -> str:
    """The pieces in the form of a pieces file, so that they can be read again."""
    pieces = list(pieces)
    on_holes, of_rest = any(p.centred for p in pieces), any(p.origins for p in pieces)
    by_sets = any(p.each for p in pieces)
    return table(
        (*PIECES_CSV, *(("each",) if by_sets else ()), *(("centred",) if on_holes else ()),
         *(("from_plan",) if of_rest else ())),
        (
            (safe(p.mark), safe(p.profile), exact_decimal(p.length), str(p.qty), safe(p.for_),
             *((str(p.each or ""),) if by_sets else ()), *((p.centred,) if on_holes else ()),
             *((origins_text(p.origins),) if of_rest else ()))
            for p in pieces
        ),
    )


def cuts_csv(plan: Plan) -> str:
    """One row for each cut of each entry of sticks cut alike, in the plan's unit."""
    return table(CUTS_CSV, (row for one in numbered(plan) for row in cut_rows(plan, one)))


def cut_rows(plan: Plan, one: Numbered) -> Iterator[Sequence[str]]:
    """The cuts of sticks that are cut alike; `number` is the first one's, counted through the plan.

    `start` and `end` are from the squared end, which is `squared_off` behind the stick's own; `cut_off` comes off the
    new end before the piece is marked, and `first_hole` is then from there.
    """
    profile, stick = plan.profiles[one.profile], one.stick
    of_all = safe(profile.profile), str(one.entry + 1), str(stick.count), exact_decimal(stick.length)
    source = stick.source, safe(stick.tag or ""), exact_decimal(stick.price)
    left = exact_decimal(stick.offcut), yes_or_no(stick.keep)
    turned = yes_or_no(stick.turned) if profile.routing else ""
    number, tags = str(one.first), safe(" ".join(stick.offcut_tags))
    squared_off = exact_decimal(squared_end(profile, stick))
    for j, piece in enumerate(marked(profile, stick, plan.tape), start=1):
        cut, last, holes = piece.cut, j == len(stick.cuts), piece.holes
        careful = care(piece, plan)
        parts = {"piece": careful.piece, "remainder": careful.behind if last else "", "cut off": careful.off}
        yield (
            *of_all, *source,
            str(j), safe(cut.mark), *map(exact_decimal, (cut.length, piece.start, piece.end)),
            *left, parts_with(CLAMP, parts), cut.centred, turned, number, tags, squared_off, exact_decimal(piece.off),
            exact_decimal(holes.first) if holes else "", str(holes.middle) if holes else "",
            parts_with(FALL, parts), parts_with(HAND_SAW, parts),
        )  # fmt: skip


def parts_with(word: str, parts: Mapping[str, str]) -> str:
    """The parts of a stick of which this is said at a cut."""
    return " and ".join(part for part, said in parts.items() if said == word)


