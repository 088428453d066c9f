"""The command line: its commands and their groups."""

from __future__ import annotations

import sys

import typer

from cutplan.commands import benching, bidding, booking, buying, choosing, planning, racking
from cutplan.commands.words import tell
from cutplan.streams import fill_in, let_go

app = typer.Typer(
    help="From a week of gates and railing bays to pieces, and from pieces to the best way to cut them.",
    add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=True,
)  # fmt: skip
rack = typer.Typer(
    help="The rack: offcuts that wait to be used, and new sticks that are there.",
    add_completion=False, rich_markup_mode=None, no_args_is_help=True,
)  # fmt: skip

app.command()(planning.takeoff)
app.command()(planning.cut)
app.command()(planning.check)
app.command()(booking.book)
app.command()(booking.rest)
app.command()(booking.unbook)
app.command()(booking.hold)
app.command()(booking.release)
app.command()(booking.recut)
app.command()(benching.sheets)
app.command()(buying.buy)
app.command()(choosing.lengths)
app.command()(bidding.bid)
app.command()(bidding.learn)
app.add_typer(rack, name="rack")
rack.command()(racking.add)
rack.command()(racking.count)
rack.command("show")(racking.show_rack)
rack.command()(racking.scrap)
rack.command()(racking.history)
rack.command()(racking.report)


def main() -> None:
    """Runs the command line. A fault of the tool itself is one line too, and exit status 1."""
    fill_in()
    try:
        app()
    except Exception as fault:
        tell(f"cutplan has a fault of its own: {type(fault).__name__}: {fault}")
        sys.exit(1)
    finally:
        let_go()
