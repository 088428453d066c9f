"""new: the files that a shop begins with."""

from __future__ import annotations

from typing import Annotated

import typer

from cutplan.commands.shared import Files, plainly


def new(folder: Annotated[str, typer.Argument(metavar="DIR", help="A folder that is new or empty.")]) -> None:
    """Write a shop file, and a week, pieces, a bid and stock lengths to write your own over, as CSV and workbooks."""
    with plainly():
        import os

        from cutplan.printable import printable
        from cutplan.sheets.forms import new_shop

        out = Files([], folders=[folder])
        out.refuse()
        made = new_shop()
        week, shop = (os.path.join(folder, name) for name in ("week.xlsx", "shop.toml"))
        said = (f"Written to {folder}: {', '.join(made)}.\nEach holds an example. Begin with shop.toml, then write "
                f"your week over that in week.csv or week.xlsx.\nTo try it as it is: cutplan cut {week} --shop {shop}")
        out.deliver({}, printable(said), {folder: made})
