"""sheets: pages to cut from, and labels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.shared import Files, plainly, tell

if TYPE_CHECKING:
    from cutplan.plans.plan import Plan
    from cutplan.sheets.bench.labels import Grid


def sheets(
    plan: Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")],
    out: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the page to FILE, such as monday.html; - prints.")
    ] = None,
    paper: Annotated[str, typer.Option(metavar="PAPER", help="What it is printed on: letter or a4.")] = "letter",
    labels: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write a label for each piece and offcut: .html or .csv.")
    ] = None,
    each: Annotated[
        bool, typer.Option("--each", help="A label for each piece, not one for all like pieces together.")
    ] = False,
    grid: Annotated[
        str | None,
        typer.Option(metavar="ROWSxCOLUMNS", help="Labels on a sheet: 10x3 on letter, 8x3 on a4 unless you say."),
    ] = None,
    margins: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="TOP SIDE", help="Their margins in mm: 12.7 5 on letter, 4.5 0 on a4 unless you say."),
    ] = None,
    only: Annotated[
        list[str] | None, typer.Option(metavar="PROFILE", help="Only this profile's sticks, for one saw of several.")
    ] = None,
    made: Annotated[
        str | None, typer.Option(metavar="DATE", help="The date on the papers; today unless you say.")
    ] = None,
    sequence: Annotated[
        bool, typer.Option("--sequence", help="Say how many gates are half cut at once, and how few could be.")
    ] = False,
) -> None:
    """Pages to cut from, for paper or a tablet: every stick to scale, with its marks on the tape; labels."""
    with plainly():
        from cutplan.checking import sound
        from cutplan.sheets.bench.paper import PAPERS

        if paper not in PAPERS:
            raise typer.BadParameter(f"--paper {paper} is not one; write {' or '.join(PAPERS)}")
        if not (out or labels or sequence):
            raise typer.BadParameter("nothing is asked for; give --out, --labels or --sequence")
        cells = {"--grid": grid, "--margins": margins}
        if not labels:
            refuse_idle({"--each": each, **cells}, "says nothing without --labels; give that too, or leave it out")
        elif labels.lower().endswith(".csv"):
            refuse_idle(cells, "is for sheets of labels; a .csv has a row for each, so leave it out")
        if not out:
            refuse_idle({"--made": made}, "is the date on the page; give --out too, or leave it out")
        if not (out or labels):
            refuse_idle({"--only": only}, "says nothing without --out or --labels; give one of them")
        files = Files([plan], outputs={"--out": out, "--labels": labels})
        sheet = read_grid(grid, margins, paper)
        day = read_day(made)
        files.refuse()
        read = sound.read_plan(plan)
        refuse_unknown(only or (), read, plan)
        texts = {out: page_of(read, plan, day, paper, tuple(only or ()))} if out else {}
        texts |= {labels: labels_of(read, labels, sheet, paper, each, only or ())} if labels else {}
        said = [f"{target}: written" for target in texts] + ([sequence_of(read)] if sequence else [])
        files.deliver(texts, "\n".join(said))


def read_day(made: str | None) -> str:
    """The date on the papers as it is printed."""
    from cutplan.buying.dates import read_date

    try:
        return str(date.today() if made is None else read_date(made))
    except ValueError as error:
        raise typer.BadParameter(f"--made {error}") from None


def refuse_idle(options: Mapping[str, object], why: str) -> None:
    """Refuses the first of these options that is given."""
    for option, value in options.items():
        if value is not None and value is not False:
            raise typer.BadParameter(f"{option} {why}")


def refuse_unknown(names: Sequence[str], plan: Plan, file: str) -> None:
    """InputProblems for the profiles that the plan does not cut."""
    from cutplan.problems import Findings, suggest

    found, known = Findings(file), [profile.profile for profile in plan.profiles]
    for name in names:
        if name not in known:
            found.add(1, "--only", f"'{name}' is not in this plan; {suggest(name, known)}")
    found.raise_any()


def read_grid(grid: str | None, margins: tuple[float, float] | None, paper: str) -> Grid:
    """The paper's usual grid, but for what is said."""
    from cutplan.sheets.bench import labels

    usual = labels.USUAL_GRID[paper]
    margins = margins or (float(usual.top), float(usual.side))
    if any(not 0 <= margin <= 100 for margin in margins):
        raise typer.BadParameter("--margins are in mm, from 0 to 100")
    try:
        said = f"{usual.rows}x{usual.columns}" if grid is None else grid
        return labels.grid(said, Fraction(margins[0]), Fraction(margins[1]))
    except ValueError as error:
        raise typer.BadParameter(f"--grid {error}") from None


def page_of(plan: Plan, file: str, made: str, paper: str, only: tuple[str, ...]) -> str:
    from cutplan.plans.plan import identity
    from cutplan.problems import Findings
    from cutplan.sheets.bench.cover import Packet
    from cutplan.sheets.bench.page import packet_page
    from cutplan.takeoff.carried import from_fields, is_older

    found = Findings(file)
    if any(map(is_older, plan.cards)):
        tell("the layout cards of this plan were made by an older cutplan and are left out; cut again to have them")
    cards = [card for k, said in enumerate(plan.cards)
             if not is_older(said) and (card := from_fields(said, f"cards[{k}]", found))]
    found.raise_any()
    return packet_page(plan, Packet(identity(plan), made, paper, only), cards)


def labels_of(plan: Plan, target: str, sheet: Grid, paper: str, each: bool, only: Sequence[str]) -> str:
    from cutplan.sheets.bench.labels import labels_csv, labels_page

    if target.lower().endswith(".csv"):
        return labels_csv(plan, each, only)
    try:
        return labels_page(plan, sheet, paper, each, only)
    except ValueError as error:
        raise typer.BadParameter(f"--grid {error}") from None


def sequence_of(plan: Plan) -> str:
    from cutplan.sheets.sequence import sequence_text

    return sequence_text(plan)
