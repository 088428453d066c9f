"""What a whole stick asks for before its first cut: somebody or something to bear it, and a look with the tape."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from cutplan.lengths import added
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, Stick
from cutplan.sheets.words import Writer

# With how little to spare a stick is measured first: 1/8 in, or as much in mm. Common practice, no source.
LITTLE = {"in": Fraction(1, 8), "mm": Fraction(127, 40)}


def to_spare(profile: ProfilePlan, stick: Stick) -> Fraction | None:
    """How much shorter than it is told a stick may be, and its pieces come off it all the same; None where an offcut
    is kept, which is then as much shorter."""
    if stick.keep:
        return None
    if profile.one_per_stick:
        return stick.offcut
    last = stick.cuts[-1]
    return added([(1, stick.length), (-1, stick.tail_trim), (-1, last.furthest if last.lies else last.end)])


def handling_words(plan: Plan, profile: ProfilePlan, stick: Stick, many: int, write: Writer) -> Iterator[str]:
    """Sentences for so many sticks like this; none where they are easy to handle and have length to spare."""
    if plan.bench is not None and stick.length > plan.bench:
        yield (f"{write.length(stick.length - plan.bench)} {write.unit} longer than the bench: bear its far end, level "
               "with the saw's table")
    which = "this stick" if many == 1 else "each of these sticks"
    spare = to_spare(profile, stick)
    if spare is None or spare > LITTLE[plan.unit]:
        return
    if not spare and not stick.tail_trim and not profile.one_per_stick:
        yield f"measure {which} first: its last piece ends on the stick's own end, and nothing is to spare"
    else:
        said = f"only {write.length(spare)} is" if spare else "nothing is"
        yield f"measure {which} first: {said} to spare"
