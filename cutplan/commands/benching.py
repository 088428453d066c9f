"""sheets: pages to cut from."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from cutplan.commands.words import deliver, plainly, read_plan, targets_refused


def sheets(
    plan: Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")],
    out: Annotated[str, typer.Option(metavar="FILE", help="Write the page to FILE, such as monday.html; - prints.")],
    paper: Annotated[str, typer.Option(metavar="PAPER", help="What it is printed on: letter or a4.")] = "letter",
) -> None:
    """A page to cut from, for paper or a tablet: every stick to scale, with its marks on the tape."""
    with plainly():
        from cutplan.cutting.planfile import identity
        from cutplan.problems import InputProblems
        from cutplan.sheets.bench.page import plan_page
        from cutplan.sheets.bench.style import PAPERS

        if paper not in PAPERS:
            raise typer.BadParameter(f"--paper {paper} is not one; write {' or '.join(PAPERS)}")
        if problems := targets_refused({"--out": out}, [plan]):
            raise InputProblems(problems)
        read = read_plan(plan)
        name = os.path.splitext(os.path.basename(plan))[0]
        deliver({out: plan_page(read, name, identity(read), paper)}, f"{out}: written")
