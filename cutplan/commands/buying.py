"""buy: what to order for the weeks ahead."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.planning import all_taken
from cutplan.commands.racking import supplied
from cutplan.commands.shared import (
    Csv,
    Files,
    FromRack,
    ShopFile,
    asked_for,
    check_limit,
    going,
    plainly,
    tell,
)

if TYPE_CHECKING:
    from cutplan.orders import Piece

Weeks = Annotated[
    list[str], typer.Argument(metavar="WEEK...", help="Week files or lists of pieces, in the order they are cut.")
]


def buy(
    weeks: Weeks,
    shop: ShopFile,
    rack: FromRack = None,
    together: Annotated[
        bool, typer.Option("--together", help="Plan all weeks as one, not each after the other.")
    ] = False,
    json: Annotated[str | None, typer.Option(metavar="FILE", help="Write the order to FILE as JSON; - prints.")] = None,
    csv: Csv = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a cheaper order than this.")
    ] = 60.0,
) -> None:
    """What to order for these weeks: bundles, minimum orders and price breaks are part of what is cheapest."""
    with plainly():
        files = Files([shop, *weeks], [rack], {"--json": json, "--csv": csv})
        check_limit(limit)

        from cutplan.buying.purchase import order
        from cutplan.orders import load_weeks
        from cutplan.sheets.buying import order_csv, order_json, order_text
        from cutplan.sheets.hardware import totals_of
        from cutplan.sheets.words import Writer

        files.refuse()
        loaded, work = load_weeks(shop, *weeks)
        on_hand = {}
        if rack:
            found = supplied(rack, loaded)
            loaded, on_hand = found.shop, dict(found.on_hand)
        for note in loaded.notes:
            tell(note)
        with going(limit) as budget:
            taken = [all_taken(week, loaded, budget.share(2 * len(work))) for week in work]
            pieces: list[Sequence[Piece]] = [one.pieces for one in taken]
            if together:
                pieces = [[piece for week in pieces for piece in week]]
            made = order(pieces, loaded, on_hand, budget)
        hardware = totals_of(card for one in taken for card in one.cards)
        texts = asked_for((json, lambda: order_json(made, loaded.unit, loaded.currency, hardware)),
                          (csv, lambda: order_csv(made)))
        write = Writer(loaded.unit, loaded.tape, loaded.currency)
        files.deliver(texts, order_text(made, len(pieces), write, hardware))
