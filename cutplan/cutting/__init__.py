"""From pieces and stock to a plan, and its proof. Knows nothing of gates: it would serve any shop that cuts lengths."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cutplan.cutting.plan import Plan
from cutplan.orders import Piece
from cutplan.shop import Shop


def cut_pieces(pieces: Sequence[Piece], shop: Shop, limit: float | None = None,
               progress: Callable[[str], None] | None = None) -> Plan:
    """The best plan found for these pieces within `limit` seconds (None: to the end), and what is proven of it.

    Raises NoPlan where a piece is longer than any stick yields or the stock runs out, InputProblems for a profile
    that cannot be cut.
    """
    from cutplan.cutting.cutter import cut_pieces as cut  # the solvers are loaded only when something is cut

    return cut(pieces, shop, limit, progress)
