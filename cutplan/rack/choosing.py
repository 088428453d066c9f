"""Which sticks of a plan somebody means who says that they are cut: by number, by profile, or ticked on a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from cutplan.damage import plain_json
from cutplan.plans.numbers import MOST_NUMBERED, said, spanned, sticks
from cutplan.plans.plan import numbered
from cutplan.problems import Findings, InputProblems, read_text, suggest
from cutplan.rack.claims import Done, Known, refuse
from cutplan.rack.register import name_of
from cutplan.rack.store import Rack

TICKED_FORMAT, TICKED_VERSION = "cutplan ticks", 1


@dataclass(frozen=True)
class Meant:
    """Some sticks of a plan (`numbers`; None: all of them), and the `option` they were told by.

    `passing`: those that were booked before are passed over, and not refused; `telling`: and that is said.
    """

    option: str = "plan"
    numbers: frozenset[int] | None = None
    passing: bool = True
    telling: bool = False


EVERYTHING = Meant()


def through(what: Known, last: int, profiles: Sequence[str] = ()) -> Meant:
    """All sticks up to a number, of these profiles alone (none: of all). InputProblems where it is none of theirs."""
    among = of_profiles(what, profiles).numbers if profiles else what.numbers
    assert among is not None
    if last not in what.numbers:
        refuse_strange(what, "--through", frozenset([last]))
    if last not in among:
        refuse(what, "--through", f"stick {last} is not of {' or '.join(profiles)}, whose sticks have the numbers "
                                  f"{said(among)}; give one of them")
    return Meant("--through", frozenset(number for number in among if number <= last))


def listed(numbers: frozenset[int]) -> Meant:
    """Just these sticks: one that is booked already is a slip."""
    return Meant("--sticks", numbers, passing=False)


def of_profiles(what: Known, names: Sequence[str]) -> Meant:
    """All sticks of some profiles. InputProblems for each that the plan has none of."""
    known = [profile.profile for profile in what.plan.profiles]
    found = Findings(what.file)
    for name in names:
        if name not in known:
            found.add(1, "--profile", f"'{name}' is not in this plan; {suggest(name, known)}")
    found.raise_any()
    return Meant("--profile", spanned((one.first, one.last) for one in numbered(what.plan)
                                      if known[one.profile] in names))


def choose(rack: Rack, what: Known, meant: Meant, before: Done) -> tuple[frozenset[int], list[str]]:
    """The sticks that are to be booked now, and what is to be said of the others. InputProblems where there are none.

    Of ticks nothing may be left to book: a page keeps them, and is asked more than once.
    """
    numbers = what.numbers if meant.numbers is None else meant.numbers
    left = what.numbers - before.gone
    if not what.numbers:
        refuse(what, "plan", f"has no sticks: {what.plan.why_empty}; nothing is to be booked")
    if not left and not meant.telling:
        cure = f"; what was spoiled of it is planned again by {rack.command('replan', what.file)}"
        refuse(what, "plan", f"was booked to its last stick on {booked_on(rack, what, what.numbers)}; nothing is left "
                             f"of it to book{cure if before.spoiled else ''}")
    if strange := numbers - what.numbers:
        refuse_strange(what, meant.option, strange)
    twice = numbers & before.gone
    if twice and not meant.passing:
        was, them = ("was", "it") if len(twice) == 1 else ("were", "them")
        refuse(what, meant.option, f"{sticks(twice)} {was} booked before, on {booked_on(rack, what, twice)}; "
                                   f"leave {them} out")
    if twice == numbers and not meant.telling:
        refuse(what, meant.option, f"{sticks(twice)} {be(twice)} booked already; {sticks(left)} {be(left)} still to "
                                   "be booked")
    notes = []
    if meant.telling and (cut := twice & before.cut):
        notes.append(f"{sticks(cut)}: booked before, so passed over")
    if meant.telling and (spoiled := twice & before.spoiled.keys()):
        notes.append(f"{sticks(spoiled)}: told as spoiled before, so passed over; its pieces are to be cut again")
    return numbers - twice, notes


def refuse_strange(what: Known, option: str, strange: frozenset[int]) -> NoReturn:
    refuse(what, option, f"{sticks(strange)} {be(strange)} not in this plan; a number from {what.plan.first} to "
                         f"{what.plan.last} is needed")


def be(numbers: frozenset[int]) -> str:
    return "is" if len(numbers) == 1 else "are"


def booked_on(rack: Rack, what: Known, numbers: frozenset[int]) -> str:
    """The last day on which any of these sticks was booked."""
    rows = rack.all("SELECT at, first, last FROM bookings JOIN booked ON booking = id "
                    "WHERE plan = ? AND undone IS NULL", what.id)
    return str(max(row["at"][:10] for row in rows if numbers & set(range(row["first"], row["last"] + 1))))


# ---- ticks ----


@dataclass(frozen=True)
class Ticks:
    """The sticks that were ticked on the page of a plan, known by its fingerprint."""

    file: str
    plan: str
    numbers: frozenset[int]


def read_ticks(path: str | Path) -> Ticks:
    """What the page of `cutplan sheets` writes. InputProblems for everything that is wrong in it."""
    found = Findings(str(path))
    fields = parsed_ticks(read_text(path), found)
    right = f'a file of ticks begins {{"format": "{TICKED_FORMAT}", "version": {TICKED_VERSION}'
    version = fields.get("version")
    if fields.get("format") != TICKED_FORMAT or not is_stick(version) or version != TICKED_VERSION:
        found.add(1, "file", f"holds no ticks that this cutplan reads; {right}; save the ticks from the page again")
        found.raise_any()
    plan, numbers = fields.get("plan"), fields.get("sticks")
    if not isinstance(plan, str) or not plan:
        found.add(1, "plan", "does not say of which plan the ticks are; save the ticks from the page again")
    if not isinstance(numbers, list) or not all(map(is_stick, numbers)):
        found.add(1, "sticks", "is not a list of stick numbers, such as [1, 2, 5]; save the ticks from the page again")
    found.raise_any()
    assert isinstance(plan, str) and isinstance(numbers, list)
    return Ticks(str(path), plan, frozenset(map(int, numbers)))


def parsed_ticks(text: str, found: Findings) -> dict[str, Any]:
    try:
        fields = plain_json(text)
    except ValueError as error:
        found.add(1, "file", f"is not JSON ({error}); save the ticks from the page again")
        raise InputProblems(found.problems) from None
    return fields if isinstance(fields, dict) else {}


def is_stick(value: Any) -> bool:
    return not isinstance(value, bool | str | list | dict) and value is not None and (
        value.denominator == 1 and 1 <= value <= MOST_NUMBERED)


def ticked(rack: Rack, what: Known, ticks: Ticks) -> Meant:
    """The sticks that were ticked. InputProblems where they are ticks of another plan."""
    if ticks.plan != what.id:
        found = Findings(ticks.file)
        found.add(1, "plan", f"these are ticks of {name_of(rack, ticks.plan)}: book that with them, or save the ticks "
                             f"of {what.file} from its own page")
        found.raise_any()
    if not ticks.numbers:
        found = Findings(ticks.file)
        found.add(1, "sticks", "no stick is ticked; tick those that are cut, and save the ticks again")
        found.raise_any()
    return Meant("--ticked", ticks.numbers, telling=True)
