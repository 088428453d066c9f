"""takeoff, cut and check: from a week to a plan, and its proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.racking import is_new, tell_new
from cutplan.commands.words import (
    STOPPED,
    Files,
    FromRack,
    Progress,
    ShopFile,
    check_limit,
    going,
    patiently,
    plainly,
    read_plan,
    show,
    tell,
)
from cutplan.texts import printable

if TYPE_CHECKING:
    from cutplan.checking.proof import Proved
    from cutplan.orders import Order, Piece
    from cutplan.plans.records import Plan, ProfilePlan
    from cutplan.running.budget import Budget
    from cutplan.shop import Shop
    from cutplan.takeoff import Takeoff

SOUND = "Every piece asked for is cut, every cut fits its stick, and the sums are right."
# seconds for each line of pieces that are kept for what comes after the search, and after the set-ups are in order
AFTER_SEARCH, AFTER_ORDER = 5e-4, 3.5e-4


def takeoff(
    week: Annotated[str, typer.Argument(metavar="WEEK", help="The week file: a line for each gate or bay.")],
    shop: ShopFile,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the pieces to FILE, for cut to read; - prints.")
    ] = None,
) -> None:
    """Work out every piece of the week, and a layout card for each gate and bay."""
    with plainly():
        files = Files([shop, week], outputs={"--csv": csv})
        loaded, orders = load(shop, [week], files)

        from cutplan.sheets.csvout import pieces_csv
        from cutplan.sheets.takeoff import takeoff_text
        from cutplan.takeoff import take_off

        taken = take_off(only_orders(orders, week), loaded)
        texts = {csv: pieces_csv(taken.pieces)} if csv else {}
        files.deliver(texts, takeoff_text(taken, loaded.unit, loaded.tape))


def cut(
    work: Annotated[
        list[str], typer.Argument(metavar="WEEK_OR_PIECES...", help="Week files, lists of pieces, or some of both.")
    ],
    shop: ShopFile,
    rack: FromRack = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the plan to FILE, for check and book to read; - prints.")
    ] = None,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the cut list to FILE; - prints.")
    ] = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a better plan than this.")
    ] = 60.0,
) -> None:
    """Plan how to cut the pieces: least cost of stock, then least length used up, then fewest set-ups."""
    with plainly():
        files = Files([shop, *work], [rack], {"--json": json, "--csv": csv})
        check_limit(limit)
        loaded, wanted = load(shop, work, files)
        for note in loaded.notes:
            tell(note)

        from cutplan.plans.writing import to_json
        from cutplan.running.workers import side_by_side
        from cutplan.sheets.csvout import cuts_csv
        from cutplan.sheets.plan import plan_text

        with going(limit) as budget:
            plan = (planned(wanted, loaded, budget) if rack is None
                    else planned_from(rack, wanted, loaded, budget, bool(json)))
            budget.tell("the plan is written")
            makers = {target: make for target, make in ((json, partial(to_json, plan)), (csv, partial(cuts_csv, plan)))
                      if target}
            *texts, table = side_by_side([*makers.values(), partial(plan_text, plan)])
            files.deliver(dict(zip(makers, texts, strict=True)), table)


def check(plan: Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")]) -> None:
    """Prove a plan again by plain exact arithmetic, without what made it."""
    with plainly():
        from cutplan.plans.place import findings

        found = findings(plan)
        with patiently(f"{plan}: reading it"):
            profiles = read_plan(plan).profiles
        results = proved(profiles)
        for k, result in enumerate(results):
            if not result.ok:
                found.add(1, f"profiles[{k}].proof", result.line)
        found.raise_any()
        said = ("\n- ".join([result.line, *result.others]) for result in results)
        show("\n".join([SOUND, *map(printable, said)]) + "\n")


# ---- what they do ----


def proved(profiles: Sequence[ProfilePlan]) -> list[Proved]:
    """What came of each profile; says its progress. On the stop key it says what was proven, what not, and ends."""
    from cutplan.checking.proof import prove

    tell_progress = Progress()
    results: list[Proved] = []
    try:
        for profile in profiles:
            results.append(prove(profile, tell_progress))
    except KeyboardInterrupt:
        left = ", ".join(profile.profile for profile in profiles[len(results):])
        told = [SOUND, *(result.line for result in results)]
        tell("\n".join([*told, f"stopped: what the plan claims to be proven of {left} was not checked"]))
        raise typer.Exit(STOPPED) from None
    return results


def load(shop: str, work: Sequence[str], files: Files) -> tuple[Shop, Sequence[Order | Piece]]:
    """What the files say. InputProblems also where an output could not be written, before any long work."""
    from cutplan.orders import load_inputs
    from cutplan.problems import InputProblems

    problems = files.problems()
    try:
        loaded = load_inputs(shop, *work)
    except InputProblems as wrong:
        raise InputProblems([*problems, *wrong.problems]) from None
    if problems:
        raise InputProblems(problems)
    return loaded


def only_orders(work: Sequence[Order | Piece], file: str) -> list[Order]:
    from cutplan.orders import Order
    from cutplan.problems import InputProblems, Problem

    orders = [entry for entry in work if isinstance(entry, Order)]
    if len(orders) < len(work):
        right = "a week file with mark,kind,system,qty,opening,height is needed; cut takes pieces as they are"
        raise InputProblems([Problem(file, 1, "file", f"is a list of pieces; {right}")])
    return orders


def planned(work: Sequence[Order | Piece], shop: Shop, budget: Budget) -> Plan:
    """The plan, which has passed its own audit; says its progress."""
    from cutplan.checking.audit import audit
    from cutplan.cutting import cut_pieces
    from cutplan.orders import marks_apart, origins
    from cutplan.planning.sequence import sequenced
    from cutplan.problems import InputProblems
    from cutplan.takeoff.carried import as_fields, drawn

    taken = taken_off(work, shop, budget.share(2))
    if problems := [*marks_apart(taken.pieces)]:
        raise InputProblems(problems)
    budget.tell(f"{len(taken.pieces)} lines of pieces")
    lines = len(taken.pieces)
    found = cut_pieces(taken.pieces, shop, budget.before(AFTER_SEARCH * lines))
    plan = sequenced(found, budget.before(AFTER_ORDER * lines))
    for profile in plan.profiles:
        for fault in profile.faults:
            tell(fault)
    budget.tell("the plan is made, and gone through once more")
    cards = tuple(as_fields(drawn(card, shop)) for card in taken.cards)
    plan = replace(plan, cards=cards, replaces=origins(work))
    if findings := audit(plan):
        tell("\n".join(["the plan failed its own audit; nothing is shown:", *findings]))
        raise typer.Exit(1)
    return plan


def planned_from(rack: str, work: Sequence[Order | Piece], shop: Shop, budget: Budget, tags: bool) -> Plan:
    """The plan with what is on a rack, which is made if it is not there; with `tags` its offcuts get theirs."""
    from cutplan.rack import replacing
    from cutplan.rack.store import changing, reading
    from cutplan.rack.supply import supply, tagged, with_on_hand

    fresh = is_new(rack)
    with changing(rack, shop.unit) as open_rack:
        replacing.refuse_stale(open_rack, work)
        found = supply(shop, open_rack)
    if fresh:
        tell_new(open_rack)
    for note in found.notes:
        tell(note)
    plan = with_on_hand(planned(work, found.shop, budget), found)
    with reading(rack) as open_rack:
        notes = [*replacing.doubts(open_rack, plan)]
    for note in notes:
        tell(note)
    if tags:
        with changing(rack) as open_rack:
            plan = tagged(plan, open_rack)
    return plan


def all_pieces(work: Sequence[Order | Piece], shop: Shop, budget: Budget) -> Sequence[Piece]:
    """The pieces listed, and those that gates and bays come to."""
    return taken_off(work, shop, budget).pieces


def taken_off(work: Sequence[Order | Piece], shop: Shop, budget: Budget) -> Takeoff:
    """The pieces listed and those of gates and bays, with the cards of these; says how free rails were centred."""
    from cutplan.orders import Order, Piece
    from cutplan.takeoff import take_off

    orders = [entry for entry in work if isinstance(entry, Order)]
    listed = tuple(entry for entry in work if isinstance(entry, Piece))
    taken = take_off(orders, shop)
    if orders and any(system.free_centring for system in shop.systems.values()):
        from cutplan.planning.centring import choose
        from cutplan.sheets.takeoff import centring_text

        if chosen := choose(orders, shop, budget):
            taken = take_off(orders, shop, chosen.centring)
            tell(centring_text(chosen, taken, shop))
        elif budget.spent():
            tell("no time was left to compare centrings; rails keep the wider end gap")
    return replace(taken, pieces=(*taken.pieces, *listed))
