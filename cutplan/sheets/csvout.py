"""The takeoff and the plan as CSV. Lengths are exact: a decimal, or "p/q" where none is finite."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from cutplan.cutting.plan import Numbered, Plan, ProfilePlan, Stick, numbered
from cutplan.lengths import exact_decimal
from cutplan.orders import Piece, origins_text
from cutplan.sheets.clamps import needs_clamp, remainders

PIECES = ("mark", "profile", "length", "qty", "for")
CUTS = (
    "profile", "stick", "count", "stock_length", "source", "tag", "price",
    "cut", "mark", "length", "start", "end", "offcut", "keep", "clamp", "centred", "turned", "number", "offcut_tags",
)  # fmt: skip


def pieces_csv(pieces: Iterable[Piece]) -> str:
    """The pieces in the form of a pieces file, so that they can be read again."""
    pieces = list(pieces)
    on_holes, of_rest = any(p.centred for p in pieces), any(p.origins for p in pieces)
    return table(
        (*PIECES, *(("centred",) if on_holes else ()), *(("from_plan",) if of_rest else ())),
        (
            (safe(p.mark), safe(p.profile), exact_decimal(p.length), str(p.qty), safe(p.for_),
             *((p.centred,) if on_holes else ()), *((origins_text(p.origins),) if of_rest else ()))
            for p in pieces
        ),
    )


def cuts_csv(plan: Plan) -> str:
    """One row for each cut of each entry of sticks cut alike, in the plan's unit."""
    return table(CUTS, (row for one in numbered(plan) for row in cut_rows(plan, one)))


def cut_rows(plan: Plan, one: Numbered) -> Iterator[Sequence[str]]:
    """The cuts of sticks that are cut alike; `number` is the first one's, counted through the plan."""
    profile, stick = plan.profiles[one.profile], one.stick
    for j, cut in enumerate(stick.cuts, start=1):
        yield (
            safe(profile.profile), str(one.entry + 1), str(stick.count), exact_decimal(stick.length),
            stick.source, safe(stick.tag or ""), exact_decimal(stick.price),
            str(j), safe(cut.mark), *map(exact_decimal, (cut.length, cut.start, cut.end)),
            exact_decimal(stick.offcut), yes_or_no(stick.keep),
            clamp_words(profile, stick, cut.length, j == len(stick.cuts), plan.shortest_held),
            cut.centred, yes_or_no(stick.turned) if profile.routing else "",
            str(one.first), safe(" ".join(stick.offcut_tags)),
        )  # fmt: skip


def clamp_words(profile: ProfilePlan, stick: Stick, length: Fraction, last: bool,
                shortest_held: Fraction | None) -> str:
    """What is to be clamped at a cut: the piece, the remainder after the last cut, both or nothing."""
    left = last and any(needs_clamp(part, shortest_held) for part in remainders(profile, stick))
    words = [*(["piece"] if needs_clamp(length, shortest_held) else []), *(["remainder"] if left else [])]
    return " and ".join(words)


def yes_or_no(flag: bool) -> str:
    return "yes" if flag else "no"


def safe(text: str) -> str:
    """The text on one line, and so that a spreadsheet takes it for text, not for a formula."""
    text = " ".join(text.split())
    return "'" + text if text.startswith(("=", "+", "-", "@")) else text


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows(rows)
    return text.getvalue()
