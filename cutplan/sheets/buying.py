"""The order for the weeks ahead, as text, CSV and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.buying.purchase import OrderLine, OrderPart, ProfileOrder
from cutplan.exactjson import written
from cutplan.lengths import exact_decimal
from cutplan.printable import plain
from cutplan.sheets.hardware import as_json, hardware_table
from cutplan.sheets.words import Writer, aligned, bulleted, titled, wrapped
from cutplan.tables import safe, table
from cutplan.takeoff.hardware import FittingTotal

ORDER = ("profile", "length", "needed", "on_hand", "ordered", "bundle", "min_order", "each", "money", "left_over")


def order_text(order: Sequence[ProfileOrder], weeks: int, write: Writer,
               hardware: Sequence[FittingTotal] = ()) -> str:
    """What to order, what it costs and leaves over, and what is proven of it; and the hardware of these weeks."""
    money = sum((one.money for one in order), Fraction(0))
    spare = sum(line.left * line.stock.price for one in order for line in one.lines)
    rest = f"sticks worth {write.money_named(spare)} are left over" if spare else "nothing is left over"
    parts = [wrapped(f"Order for {write.money_named(money)}; {rest}."), write.legend(),
             f"{titled('To order')}\n{order_table(order, write)}",
             f"{titled('What is proven')}\n{bulleted(line for one in order for line in proof_lines(one, write))}"]
    if weeks > 1:
        parts.append(wrapped(f"The {weeks} weeks are ordered for one after the other, each with what those before it "
                             "left. Nothing is proven of the sum: one order for all of them may be cheaper. "
                             "--together looks for that."))
    if hardware:
        parts += [hardware_table(hardware, write), wrapped("Hardware is not part of the amount above.")]
    return "\n\n".join(parts)


def order_table(order: Sequence[ProfileOrder], write: Writer) -> str:
    """A row for each length that is needed or on hand."""
    rows = [(plain(one.profile), write.stock(line.stock.length), str(line.needed), str(line.there),
             str(line.ordered), terms_text(line), write.money(line.each), write.money(line.money), str(line.left))
            for one in order for line in one.lines if line.needed or line.there]
    amount = sum((one.money for one in order), Fraction(0))
    lines = [line for one in order for line in one.lines]
    needed, there, ordered, left = (str(sum(counts)) for counts in zip(*(
        (line.needed, line.there, line.ordered, line.left) for line in lines), strict=True))
    rows.append(("total", "", needed, there, ordered, "", "", write.money(amount), left))
    headings = ("profile", f"length, {write.unit}", "needed", "on hand", "to order", "sold", write.priced("each"),
                write.priced("amount"), "left over")
    return aligned(headings, rows)


def terms_text(line: OrderLine) -> str:
    """How a length is sold, where not simply one by one."""
    stock = line.stock
    said = [f"by {stock.bundle}"] if stock.bundle > 1 else []
    said += [f"minimum order {stock.min_order}"] if stock.min_order > 1 else []
    if line.each != stock.price:
        said += [f"from {max(least for least, _ in stock.breaks if least <= line.ordered)}"]
    return ", ".join(said)


def proof_lines(one: ProfileOrder, write: Writer) -> list[str]:
    """What is known of one profile's order; no plan file proves it again."""
    if len(one.parts) == 1:
        said = f"{plain(one.profile)}: {write.money_named(one.money)}"
        return [f"{said}: {part_text(one.parts[0], 'no order for these pieces is cheaper', write)}"]
    return [f"{plain(one.profile)}: week {part.week} adds {write.money_named(part.money)}: "
            + part_text(part, "its pieces cannot add less after the weeks before it", write) for part in one.parts]


def part_text(part: OrderPart, proven: str, write: Writer) -> str:
    """What is known of one week's part, or of the whole where it is the only one."""
    if part.proven:
        return f"proven by search, {proven}"
    return f"not proven, could at most be {write.money_at_most(part.money - part.bound)} cheaper"


def order_csv(order: Sequence[ProfileOrder]) -> str:
    return table(ORDER, (
        (safe(one.profile), exact_decimal(line.stock.length), str(line.needed), str(line.there), str(line.ordered),
         str(line.stock.bundle), str(line.stock.min_order), exact_decimal(line.each), exact_decimal(line.money),
         str(line.left)) for one in order for line in one.lines))


def order_json(order: Sequence[ProfileOrder], unit: str, currency: str, hardware: Sequence[FittingTotal] = ()) -> str:
    return written({
        "unit": unit,
        "currency": currency,
        "money": sum((one.money for one in order), Fraction(0)),
        "bound": None if any(one.bound is None for one in order) else sum(one.bound or 0 for one in order),
        "profiles": [{
            "profile": one.profile, "money": one.money, "bound": one.bound,
            "status": "search" if one.proven else "gap",
            "weeks": [{"week": part.week, "money": part.money, "bound": part.bound,
                       "status": "search" if part.proven else "gap"} for part in one.parts],
            "lengths": [{
                "length": line.stock.length, "needed": line.needed, "on_hand": line.there, "ordered": line.ordered,
                "each": line.each, "money": line.money, "left_over": line.left} for line in one.lines],
        } for one in order],
        **({"hardware": as_json(hardware)} if hardware else {}),
    }) + "\n"
