"""From pieces and stock to a plan, and its proof. Knows nothing of gates: it would serve any shop that cuts lengths."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget
from cutplan.shop import Shop


def cut_pieces(pieces: Sequence[Piece], shop: Shop, budget: Budget | None = None) -> Plan:
    """The best plan found for these pieces with this budget (None: to the end), and what is proven of it.

    Raises NoPlan where a piece is longer than any stick yields or the stock runs out, InputProblems for a profile
    that cannot be cut.
    """
    from cutplan.cutting.tiers import cut_pieces as cut

    return cut(pieces, shop, budget or Budget())
