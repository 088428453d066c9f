"""The order of set-ups in words."""

from __future__ import annotations

from cutplan.planning.sequence import by_setup, fewest_open, gates_of, most_open
from cutplan.plans.plan import Plan
from cutplan.printable import plain


def sequence_text(plan: Plan) -> str:
    """How many gates and bays are half cut at once in the plan's own order, and how few could be."""
    said = ["Most gates and bays half cut at once, in the plan's order and at the least:"]
    for profile in plan.profiles:
        setups = gates_of(profile, by_setup(profile).values())
        best = fewest_open(setups)
        known = "proven" if best.proven else "the fewest found"
        said.append(f"- {plain(profile.profile)}: {most_open(setups)}, {best.open} ({known})")
    return "\n".join(said)
