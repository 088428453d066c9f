"""check: whether a plan is sound, what it proves, whether it is of a shop and its weeks; and its proof for others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.racking import read_known, refuse_missing
from cutplan.commands.shared import STOPPED, Files, Progress, patiently, plainly, tell, with_stock
from cutplan.printable import printable
from cutplan.rack import USUAL_RACK

if TYPE_CHECKING:
    from cutplan.checking.proof import Proved
    from cutplan.checking.vipr.proof import ProofFile
    from cutplan.planning.tied import AskedOf, Untied
    from cutplan.plans.plan import Plan
    from cutplan.plans.records import ProfilePlan
    from cutplan.problems import Findings
    from cutplan.rack.claims import Known

SOUND = "Every piece asked for is cut, every cut fits its stick, and the sums are right."
NOT_ALL_SEEN = (", and cuts nothing beyond what is asked for. It is a plan of what others left: whether all else that "
                "is asked for was cut before is said by")


def check(
    plan: Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")],
    work: Annotated[
        list[str] | None, typer.Argument(metavar="[WEEK...]", help="With --shop: the weeks and pieces it was made of.")
    ] = None,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="Whether it keeps to this shop file.")
    ] = None,
    rack: Annotated[
        str | None, typer.Option("--rack", metavar="FILE", help="With a week: the rack that says what of it was cut "
                                                                "before a plan of what others left.")
    ] = None,
    vipr: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the proof of a profile's cost as VIPR; - prints.")
    ] = None,
    profile: Annotated[
        str | None, typer.Option(metavar="NAME", help="With --vipr: of this profile.")
    ] = None,
) -> None:
    """Prove a plan again by plain exact arithmetic, without what made it."""
    with plainly():
        from cutplan.problems import Findings

        if work and not shop:
            raise typer.BadParameter("a week is read with its shop file; give --shop too")
        if rack and not work:
            raise typer.BadParameter("--rack says what of a week was cut before; give the week and its --shop too")
        if profile and not vipr:
            raise typer.BadParameter("--profile says of which profile --vipr is; give that too")
        files = Files([plan, *(work or []), *with_stock(shop)], [rack] if rack else [], {"--vipr": vipr})
        if rack:
            refuse_missing(rack)
        found = Findings(plan)
        found.problems += files.problems()
        with patiently(f"{plan}: reading it"):
            what = read_known(plan)
        read = what.plan
        chosen = to_write(read, profile, found) if vipr else None
        found.raise_any()
        tied = tied_to(what, shop, work or [], rack) if shop else None
        if tied and (tied.problems or tied.prices):
            found.problems += [*tied.problems, *tied.prices]
        results = proved(read.profiles)
        for one, result in zip(read.profiles, results, strict=True):
            if not result.ok:
                found.add(1, f"{one.profile}, its proof", result.line)
        found.raise_any()
        said = ("\n- ".join([result.line, *result.others]) for result in results)
        asked = ""
        if work and shop:
            asked = (f"{NOT_ALL_SEEN} {checked_on(plan, work, shop)}" if tied and tied.partly else
                     ", and what is asked for is cut or in it" if read.replaces else ", and cuts what is asked for")
        of_shop = [f"It keeps to the rules, the lengths and the prices of {shop}{asked}."] if shop else []
        written = proof_file(chosen) if chosen else None
        of_file = [told_of(chosen, written)] if chosen and written else []
        files.deliver({vipr: written.text} if vipr and written else {},
                      "\n".join([SOUND, *of_shop, *map(printable, said), *of_file]))


# ---- what it does ----


def to_write(plan: Plan, name: str | None, found: Findings) -> ProfilePlan | None:
    """The profile whose proof is to be written down; what is wrong with the choice is found."""
    from cutplan.checking.vipr.proof import why_not
    from cutplan.problems import suggest

    able = [one.profile for one in plan.profiles if not why_not(one)]
    named = name or (able[0] if len(able) == 1 else None)
    chosen = next((one for one in plan.profiles if one.profile == named), None)
    those = f"of these it can: {', '.join(able)}" if able else "none of this plan's can"
    if name is not None and chosen is None:
        right = suggest(name, [one.profile for one in plan.profiles])
        found.add(1, "--profile", f"'{name}' is not in this plan; {right}")
    elif chosen is None:
        found.add(1, "--vipr", f"holds the proof of one profile; choose it with --profile; {those}")
    elif reason := why_not(chosen):
        found.add(1, "--vipr", f"the proof of {chosen.profile} cannot be written so, for {reason}; {those}")
    return chosen


def proof_file(profile: ProfilePlan) -> ProofFile:
    """The proof of a profile's bound, for other checkers; says its progress."""
    from cutplan.checking.vipr.flow import TooLarge
    from cutplan.checking.vipr.proof import write_proof
    from cutplan.problems import InputProblems, Problem

    said = f"{profile.profile}: writing its proof"
    try:
        with Progress() as progress:
            return write_proof(profile, lambda: progress(said))
    except TooLarge:
        raise InputProblems([Problem(profile.profile, 1, "--vipr", "its proof would be larger than a file that other "
                                     "checkers can read; check alone proves it")]) from None


def told_of(profile: ProfilePlan, written: ProofFile) -> str:
    """What a proof file proves."""
    from cutplan.checking.proof import no_cheaper

    proven = no_cheaper(written.bound, profile.tiers[0].value)
    return f"Proof file, {profile.profile}: {proven}; {written.arcs:,} arcs, {written.rows:,} steps."


def tied_to(what: Known, shop: str, work: Sequence[str], rack: str | None) -> Untied:
    """Where a plan is not of a shop and of weeks, of which a rack knows what is cut already. InputProblems for what is
    wrong in their files."""
    from cutplan.orders import load_inputs
    from cutplan.planning.tied import AskedOf, so_far, untied
    from cutplan.rack.store import reading

    loaded, wanted = load_inputs(shop, *work)
    before = None
    if rack is not None and work and what.plan.replaces:
        with reading(rack) as open_rack:
            before = so_far(open_rack, what, loaded)
    asked = AskedOf(loaded, wanted, tuple(work), rack or USUAL_RACK, before)
    found = untied(what, asked)
    if found.problems and work:
        return untied(what, with_plans_beside(asked, what, rack))
    return found


def with_plans_beside(asked: AskedOf, what: Known, rack: str | None) -> AskedOf:
    """The same, with the other plans of a rack that are or were for pieces of the weeks; where no rack is named, of the
    usual one, as far as it can be read."""
    from cutplan.planning.beside import done_with, plans_beside
    from cutplan.problems import InputProblems

    try:
        others = plans_beside(rack or USUAL_RACK, [what], asked.week, asked.shop)
        return replace(asked, others=tuple(one.name for one in others),
                       done_with=done_with(rack or USUAL_RACK, [what], asked.week, asked.shop))
    except InputProblems:
        if rack is not None:
            raise
        return asked


def checked_on(plan: str, work: Sequence[str], shop: str) -> str:
    """The command that checks a plan with what its rack says was cut before."""
    from shlex import join

    return join(["cutplan", "check", plan, *work, "--shop", shop, "--rack", USUAL_RACK])


def proved(profiles: Sequence[ProfilePlan]) -> list[Proved]:
    """What came of each profile; says its progress. On the stop key it says what was proven, what not, and ends."""
    from cutplan.checking.proof import prove

    results: list[Proved] = []
    try:
        with Progress() as progress:
            for profile in profiles:
                results.append(prove(profile, progress))
    except KeyboardInterrupt:
        left = ", ".join(profile.profile for profile in profiles[len(results):])
        told = [SOUND, *(result.line for result in results)]
        tell("\n".join([*told, f"stopped: what the plan claims to be proven of {left} was not checked"]))
        raise typer.Exit(STOPPED) from None
    return results
