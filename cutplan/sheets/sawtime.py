"""The time at the saw beside the material, in words: by profile, and for each gate and bay."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from cutplan.lengths import exact_decimal, listed
from cutplan.plans.plan import Plan
from cutplan.plans.records import SawTime, total
from cutplan.plans.sawtime import MINUTES, total_time
from cutplan.plans.shares import by_owner, shares, together
from cutplan.printable import plain
from cutplan.sheets.words import Writer, aligned, titled, wrapped

HEADINGS = ("set-ups", "lifts", "cuts", "minutes")


def times_text(plan: Plan, write: Writer) -> Iterator[str]:
    """A table by profile and one by gate and bay; nothing where the shop does not say what work takes."""
    whole = total_time(plan)
    if plan.saw is None or whole is None:
        return
    rows = [(plain(one.profile), *time_cells(one.saw, write), *money_cells(one.saw.amount, one.totals.cost, write))
            for one in plan.profiles if one.saw is not None]
    if len(rows) > 1:
        cost = total(plan.profiles).cost
        rows.append(("total", *time_cells(whole, write), *money_cells(whole.amount, cost, write)))
    headings = ("profile", *HEADINGS, *money_headings(plan, write))
    yield f"{titled('Time at the saw')}\n{aligned(headings, rows)}\n{wrapped(rates_words(plan, write))}"
    hourly = plan.saw.hourly is not None
    owners = by_owner(shares(plan))
    each = [(plain(one.for_), write.money(one.minutes),
             *money_cells(one.sawing if hourly else None, one.cost, write))
            for one in (*owners, together("total", owners))]
    note = ("The time and the price of each stick are shared out among its pieces by their length; the shares add up "
            "to the totals exactly.")
    yield (f"{titled('Of each gate and bay')}\n"
           f"{aligned(('for', 'minutes', *money_headings(plan, write)), each)}\n{wrapped(note)}")


def money_headings(plan: Plan, write: Writer) -> tuple[str, ...]:
    known = plan.saw is not None and plan.saw.hourly is not None
    return ((write.priced("saw"), "material", "together") if known else (write.priced("material"),))


def time_cells(time: SawTime, write: Writer) -> tuple[str, ...]:
    return str(time.setups), str(time.lifts), str(time.cuts), write.money(time.minutes)


def money_cells(sawing: Fraction | None, material: Fraction, write: Writer) -> tuple[str, ...]:
    if sawing is None:
        return (write.money(material),)
    return write.money(sawing), write.money(material), write.money(sawing + material)


def rates_words(plan: Plan, write: Writer) -> str:
    """What the figures rest on."""
    rates = plan.saw
    if rates is None:
        return ""
    said = [f"{exact_decimal(rates.setup_minutes)} min a set-up", f"{exact_decimal(rates.cut_seconds)} s a cut",
            f"{exact_decimal(rates.stick_seconds)} s a lift"]
    hourly = [] if rates.hourly is None else [f"{write.money_named(rates.hourly)} an hour"]
    lifted = f"A lift is up to {plan.stack} sticks cut together" if plan.stack > 1 else "A lift is one stick"
    return (f"By your shop's figures: {', '.join([*said, *hourly])}. {lifted}; a cut goes through a whole lift. "
            f"{cuts_words(plan)}")


def cuts_words(plan: Plan) -> str:
    """What counts as a cut, so far as the plan has it."""
    counted = ["to square an end", "for each piece"]
    if any(one.routing for one in plan.profiles):
        counted.append("for what is cut off a new end before a rail with holes is marked")
    if any(one.angles for one in plan.profiles):
        counted.append("for a new end that is cut again at another angle")
    return f"Cuts are {listed([f'one {why}' for why in counted])}."


def time_words(plan: Plan) -> str:
    """The time and its money in a sentence, for the head of a page; "" where it is not known."""
    whole = total_time(plan)
    if whole is None:
        return ""
    write = Writer(plan.unit, plan.tape, plan.currency)
    money = "" if whole.amount is None else f", {write.money_named(whole.amount)}"
    return f" At the saw: {write.money(whole.minutes)} min ({write.money(whole.minutes / MINUTES)} h){money}."
