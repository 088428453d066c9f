"""replan: what is left of plans is planned again, and they are retired."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.booking import known
from cutplan.commands.planning import tell_of
from cutplan.commands.racking import RACK, RackFile
from cutplan.commands.shared import Files, ShopFile, check_limit, going, plainly, tell

if TYPE_CHECKING:
    from cutplan.orders import Order, Piece
    from cutplan.plans.plan import Plan
    from cutplan.rack.claims import Known
    from cutplan.shop import Shop


def replan(
    plans: Annotated[list[str], typer.Argument(metavar="PLAN...", help="Plans of which something is left to cut.")],
    shop: ShopFile,
    more: Annotated[
        list[str] | None, typer.Option("--with", metavar="FILE", help="A week or pieces that have come since; may be "
                                                                      "given again.")
    ] = None,
    rack: RackFile = RACK,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the new plan to FILE, and retire the old ones; without it "
                                                      "nothing is changed.")
    ] = None,
    csv: Annotated[str | None, typer.Option(metavar="FILE", help="Write the cut list to FILE; - prints.")] = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a better plan than this.")
    ] = 60.0,
) -> None:
    """Plan again what is left of plans, with what has come since: the new plan takes their place."""
    with plainly():
        more = more or []
        files = Files([shop, *plans, *more], [rack], {"--json": json, "--csv": csv})
        check_limit(limit)
        if json == "-":
            raise typer.BadParameter("--json - cannot be booked; give it a file")
        olds = known_plans(plans, rack, files)
        loaded, added = load_more(shop, more)

        from cutplan.planning.racked import left_of, on_rack, replaced_on_rack
        from cutplan.planning.solve import solve
        from cutplan.plans.plan import to_json
        from cutplan.rack.store import changing
        from cutplan.rack.supply import with_on_hand
        from cutplan.sheets.csvout import cuts_csv
        from cutplan.sheets.plan import plan_text

        work = checked([*left_of(rack, olds, loaded), *added])
        with going(limit) as budget:
            found = on_rack(rack, work, loaded, bool(json), [old.id for old in olds])
            for note in (*loaded.notes, *found.notes):
                tell(note)
            result = solve(work, found.shop, budget)
        tell_of(result)
        plan = with_cards(with_on_hand(result.plan, found), olds)
        if json is None:
            files.deliver({csv: cuts_csv(plan)} if csv else {}, plan_text(plan))
            tell("this is only a look; --json FILE writes the plan, and retires what it takes the place of")
            return
        with changing(rack) as open_rack:  # whoever is stopped before its end has a file, and the old plans still
            plan, notes = replaced_on_rack(open_rack, plan, olds, json)
            files.write({json: to_json(plan), **({csv: cuts_csv(plan)} if csv and csv != "-" else {})})
        files.print({csv: cuts_csv(plan)} if csv else {}, plan_text(plan))
        for note in notes:
            tell(note)


# ---- what it does ----


def known_plans(plans: Sequence[str], rack: str, files: Files) -> list[Known]:
    """The plans that are given, all sound and each of them once. InputProblems for everything else."""
    from cutplan.commands.racking import refuse_missing
    from cutplan.problems import InputProblems, Problem

    files.refuse()
    refuse_missing(rack)
    problems: list[Problem] = []
    found: dict[str, Known] = {}
    for plan in plans:
        try:
            what = known(plan, rack)
        except InputProblems as wrong:
            problems += wrong.problems
            continue
        if what.id in found:
            problems.append(Problem(plan, 1, "file", f"is the same plan as {found[what.id].file}; give it once"))
        found.setdefault(what.id, what)
    if problems:
        raise InputProblems(problems)
    return list(found.values())


def load_more(shop: str, more: Sequence[str]) -> tuple[Shop, Sequence[Order | Piece]]:
    from cutplan.orders import load_inputs

    return load_inputs(shop, *more)


def checked(work: Sequence[Order | Piece]) -> Sequence[Order | Piece]:
    """The work, which can be cut together. InputProblems where it cannot."""
    from cutplan.orders import clashing
    from cutplan.problems import InputProblems

    if problems := clashing(work):
        raise InputProblems(problems)
    return work


def with_cards(plan: Plan, olds: Sequence[Known]) -> Plan:
    """The plan with the layout cards that its pieces were asked for by, where the old plans have them."""
    wanted = {entry.for_ for profile in plan.profiles for entry in profile.demand}
    own = {card.get("mark") for card in plan.cards}
    carried = [card for old in olds for card in old.plan.cards if card.get("mark") in wanted - own]
    return replace(plan, cards=(*carried, *plan.cards))
