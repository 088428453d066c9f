"""The command line: its commands and their groups."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperGroup

from cutplan.commands import (
    beginning,
    benching,
    bidding,
    booking,
    buying,
    checking,
    learning,
    planning,
    racking,
    replanning,
    stock_lengths,
)
from cutplan.commands.shared import tell
from cutplan.streams import fill_in, keep_apart, let_go

GROUPS: dict[str, list[Callable[..., None]]] = {  # the commands by who asks, in the order of a week
    "At the saw": [
        beginning.new, planning.takeoff, planning.cut, checking.check, benching.sheets, booking.hold, booking.release,
        booking.book, booking.spoil, booking.rest, replanning.replan, booking.recut, booking.unbook,
    ],
    "For the buyer": [buying.buy, stock_lengths.lengths],
    "For the estimator": [bidding.bid, learning.learn],
}  # fmt: skip
RACK_GROUP = "rack"
WHOLE = 300  # letters, so that no help text is cut short


class ByWhoAsks(TyperGroup):
    """A list of commands under who asks for them."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        for title, commands in GROUPS.items():
            names = [command.__name__ for command in commands] + [RACK_GROUP] * (title == next(iter(GROUPS)))
            with formatter.section(title):
                formatter.write_dl([(name, self.commands[name].get_short_help_str(limit=WHOLE)) for name in names])


app = typer.Typer(
    help="From a week of gates and railing bays to pieces, and from pieces to the best way to cut them.",
    cls=ByWhoAsks, rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=True,
)  # fmt: skip
rack = typer.Typer(
    help="The rack: offcuts that wait to be used, and new sticks on hand.",
    add_completion=False, rich_markup_mode=None, no_args_is_help=True,
)  # fmt: skip

for commands in GROUPS.values():
    for command in commands:
        app.command()(command)
app.add_typer(rack, name=RACK_GROUP)
rack.command()(racking.add)
rack.command()(racking.count)
rack.command("show")(racking.show_rack)
rack.command()(racking.scrap)
rack.command()(racking.plans)
rack.command()(racking.history)
rack.command()(racking.report)
rack.command("check")(racking.check_rack)
rack.command()(racking.restore)


def main() -> None:
    """Runs the command line. A fault of the tool itself is one line too, and exit status 1."""
    fill_in()
    keep_apart()
    try:
        app()
    except Exception as fault:
        tell(f"cutplan has a fault of its own: {type(fault).__name__}: {fault}")
        sys.exit(1)
    finally:
        let_go()
