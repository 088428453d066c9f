"""A whole plan, and its file: exact decimals, one fingerprint for each part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from cutplan.callers import admit, no_path
from cutplan.exactjson import written
from cutplan.files import write_whole
from cutplan.orders import Origin
from cutplan.plans.digest import digest
from cutplan.plans.records import ProfilePlan, Stick
from cutplan.plans.writing import profile_fields, rates_fields
from cutplan.shop import SawRates

FORMAT, VERSION = "cutplan plan", 1


@dataclass(frozen=True)
class Plan:
    """A whole plan. `shop` (its name), `shortest_held`, `shortest_clamped`, `tape`, `stack` (sticks cut together),
    `saw` (what work at it takes) and `bench` (its length) are the shop's, for the sheets.

    `cards` are the layout cards of what the pieces are for, as the sheets wrote them: the cutter never looks at them.
    `replaces` are the rests of other plans that pieces of this one come from. Its sticks are numbered from `first` on:
    no number stands on two papers of a week. `weeks` are the names of the files that say what is to be made, `job` is
    what it is cut for, by which its bid is known.
    `rack_changes` is how often the rack that it was made with had been changed then; 0: none was. `week_changes` is how
    often its week had changed under way, so that pieces in hand became others or offcuts.
    """

    unit: str
    profiles: tuple[ProfilePlan, ...]
    currency: str = ""
    tape: Fraction = Fraction(1, 16)
    shortest_held: Fraction | None = None
    cards: tuple[dict[str, Any], ...] = ()
    replaces: tuple[Origin, ...] = ()
    stack: int = 1
    shortest_clamped: Fraction | None = None
    shop: str = ""
    bench: Fraction | None = None
    saw: SawRates | None = None
    first: int = 1
    rack_changes: int = 0
    week_changes: int = 0
    weeks: tuple[str, ...] = ()
    job: str = ""

    @property
    def last(self) -> int:
        """The number of its last stick."""
        return self.first - 1 + sum(stick.count for profile in self.profiles for stick in profile.sticks)

    @property
    def why_empty(self) -> str:
        """Why it has no sticks; "" where it has some."""
        if self.profiles:
            return ""
        return ("all that was asked for is cut already" if self.replaces else
                "nothing was ordered for its week, which waits to be ordered")

    def save(self, path: str | Path) -> None:
        """Writes the plan to a file, wholly or not at all, for `check`, `book` and `sheets`.

        Raises InputProblems where the file cannot be written.
        """
        admit(path=no_path(path))
        write_whole({str(path): to_json(self)})


@dataclass(frozen=True)
class Numbered:
    """An entry of a plan's sticks; its first stick is number `first`, counted through the whole plan from its own
    first number.

    `profile` and `entry` are its places in the lists of the plan.
    """

    first: int
    profile: int
    entry: int
    stick: Stick

    @property
    def last(self) -> int:
        return self.first + self.stick.count - 1


def numbered(plan: Plan) -> Iterator[Numbered]:
    """The entries of all sticks in the plan's order."""
    first = plan.first
    for k, profile in enumerate(plan.profiles):
        for s, stick in enumerate(profile.sticks):
            yield Numbered(first, k, s, stick)
            first += stick.count


def to_json(plan: Plan) -> str:
    """The plan as text, in the plan's unit. `read_json` gives the same plan back."""
    fields = plan_fields(plan)
    return written({**fields, "digest": digest(fields)}) + "\n"


def identity(plan: Plan) -> str:
    """The fingerprint of the whole plan, by which it is known again."""
    return str(digest(plan_fields(plan))["whole"])


def plan_fields(plan: Plan) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "version": VERSION,
        **({"shop": plan.shop} if plan.shop else {}),
        **({"weeks": list(plan.weeks)} if plan.weeks else {}),
        **({"job": plan.job} if plan.job else {}),
        "unit": plan.unit,
        "currency": plan.currency,
        "tape": plan.tape,
        "shortest_held": plan.shortest_held,
        **({"shortest_clamped": plan.shortest_clamped} if plan.shortest_clamped is not None else {}),
        **({"bench": plan.bench} if plan.bench is not None else {}),
        **({"stack": plan.stack} if plan.stack != 1 else {}),
        **({"saw": rates_fields(plan.saw)} if plan.saw is not None else {}),
        "profiles": [profile_fields(profile) for profile in plan.profiles],
        **({"cards": list(plan.cards)} if plan.cards else {}),
        **({"replaces": [replaced_fields(one) for one in plan.replaces]} if plan.replaces else {}),
        **({"first": plan.first} if plan.first != 1 else {}),
        **({"rack_changes": plan.rack_changes} if plan.rack_changes else {}),
        **({"week_changes": plan.week_changes} if plan.week_changes else {}),
    }


def replaced_fields(one: Origin) -> dict[str, Any]:
    return {
        "plan": one.plan,
        "after": one.after,
        **({"cut": one.cut} if one.cut else {}),
        **({"last": one.last} if one.last else {}),
    }
