"""The order for the weeks ahead, as text, CSV and JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.buying.order import OrderLine, PlacedOrder, ProfileOrder, left_of, total
from cutplan.buying.within import Affordable
from cutplan.exactjson import written
from cutplan.plans.records import waste_percent
from cutplan.printable import plain
from cutplan.sheets.hardware import as_json, hardware_table
from cutplan.sheets.listing import Listing, as_csv, listing, measure, number
from cutplan.sheets.words import Writer, aligned, bulleted, percent, titled, wrapped
from cutplan.takeoff.hardware import FittingTotal

ORDER = ("profile", "length", "needed", "on_hand", "ordered", "bundle", "min_order", "each", "money", "left_over",
         "supplier", "code", "week")
BOUNDED = "Bounded is what every order for these pieces costs: from these entries, at their terms and freight, "
FROM_THERE = "cut from what is there."
WEEK_BY_WEEK = "each week cut from what is there by then and from what the weeks before it left."


@dataclass(frozen=True)
class Without:
    """What the order with all suppliers costs, and no less than which."""

    suppliers: tuple[str, ...]
    money: Fraction
    bound: Fraction


@dataclass(frozen=True)
class OrderSheet:
    """What was ordered: one order, or one for each of several weeks; `hardware` is for all of them, each thing from one
    of the `hardware_weeks` on, counted from 0."""

    orders: tuple[PlacedOrder, ...]
    hardware: tuple[FittingTotal, ...] = ()
    hardware_weeks: tuple[int, ...] = ()
    without: Without | None = None
    within: Affordable | None = None

    @property
    def weekly(self) -> bool:
        return len(self.orders) > 1

    @property
    def many_weeks(self) -> bool:
        """Whether more weeks than one are cut one after the other."""
        return sum(len(order.weeks) for order in self.orders) > 1

    @property
    def bound(self) -> Fraction | None:
        return self.orders[0].bound if len(self.orders) == 1 else None


def order_text(sheet: OrderSheet, write: Writer) -> str:
    """What to order, what it costs and leaves over, and what is proven of it; and the hardware of these weeks."""
    parts = [wrapped(line) for line in [*within_lines(sheet, write), first_line(sheet, write)] if line]
    parts.append(write.legend())
    for one in sheet.orders:
        title = f"To order for week {one.weeks[0]}" if sheet.weekly else "To order"
        parts.append(f"{titled(title)}\n{order_table(one, write)}")
        if bills := bill_lines(one, write):
            parts.append(bulleted(bills))
    if sheet.orders:
        parts.append(f"{titled('What is proven')}\n{bulleted(proof_lines(sheet, write))}")
        by_week = len(sheet.orders[0].weeks) > 1
        parts.append(wrapped(WEEKLY if sheet.weekly else BOUNDED + (WEEK_BY_WEEK if by_week else FROM_THERE)))
    if sheet.many_weeks:
        parts.append(wrapped(IN_TURN))
    if sheet.hardware:
        parts.append(hardware_table(sheet.hardware, write))
        parts.append(wrapped(hardware_line(sheet, write)))
    return "\n\n".join(parts)


WEEKLY = ("Each week is ordered for alone, with what those before it left. Nothing is proven of the sum: one order for "
          "all of them may be cheaper, and is what is looked for without --weekly.")


IN_TURN = ("Cut the weeks in their order, each by its plan of --plans: then what is ordered is enough. A week planned "
           "without it may draw what a later one was to have.")


def within_lines(sheet: OrderSheet, write: Writer) -> list[str]:
    """For which gates and bays the money is enough, and for which not."""
    if (found := sheet.within) is None:
        return []
    said = f"{write.money_named(found.amount)} is enough for sticks and freight of"
    now = ", ".join(map(plain, found.now))
    if not found.wait:
        return [f"{said} all: {now}."]
    lines = [f"{said} {now}: these can be cut." if now else
             f"{write.money_named(found.amount)} is not enough for the first, {plain(found.wait[0])}."]
    proven = (f"No order for so much is enough for {plain(found.wait[0])} as well: proven by search." if found.proven
              else f"Whether it could be enough for {plain(found.wait[0])} as well is not proven.")
    return [*lines, f"To wait: {', '.join(map(plain, found.wait))}.", proven]


def first_line(sheet: OrderSheet, write: Writer) -> str:
    if not sheet.orders:
        return ""
    spare = left_of(sheet.orders)
    rest = f"sticks that cost {write.money_named(spare)} are left over" if spare else "nothing of it is left over"
    what = f"{len(sheet.orders)} orders" if sheet.weekly else "Order"
    return f"{what} for {write.money_named(total(sheet.orders))}; {rest}."


def order_table(order: PlacedOrder, write: Writer) -> str:
    """A row for each entry that is needed, on hand or ordered."""
    lines = [(one, line) for one in order.profiles for line in one.lines if line.needed or line.there or line.ordered]
    named = any(line.stock.supplier for _, line in lines)
    rows = [(plain(one.profile), write.stock(line.stock.length), *((plain(line.stock.supplier),) if named else ()),
             str(line.needed), str(line.there), str(line.ordered), terms_text(line), write.money(line.each),
             write.money(line.money), str(line.left)) for one, line in lines]
    needed, there, ordered, left = (str(sum(counts)) for counts in zip(*(
        (line.needed, line.there, line.ordered, line.left) for _, line in lines), strict=True)) if lines else "0000"
    goods = sum((bill.goods for bill in order.bills), Fraction(0))
    rows.append(("total", "", *(("",) if named else ()), needed, there, ordered, "", "", write.money(goods), left))
    headings = ("profile", f"length, {write.unit}", *(("supplier",) if named else ()), "needed", "on hand", "to order",
                "sold", write.priced("each"), write.priced("amount"), "left over")
    return aligned(headings, rows, "lr" + "l" * named + "rrrlrrr")


def terms_text(line: OrderLine) -> str:
    """How a length is sold, where not simply one by one."""
    stock = line.stock
    said = [f"by {stock.bundle}"] if stock.bundle > 1 else []
    said += [f"minimum order {stock.min_order}"] if stock.min_order > 1 else []
    if line.each != stock.price:
        said += [f"from {max(least for least, _ in stock.breaks if least <= line.ordered)}"]
    return ", ".join(said)


def bill_lines(order: PlacedOrder, write: Writer) -> list[str]:
    """What each supplier is owed, where any is named."""
    return [f"{plain(bill.supplier) or 'no supplier named'}: sticks {write.money_named(bill.goods)}, freight "
            f"{write.money_named(bill.freight)}, together {write.money_named(bill.money)}"
            for bill in order.bills if bill.supplier or bill.freight]


def proof_lines(sheet: OrderSheet, write: Writer) -> list[str]:
    """What is known of each order; no file proves it again."""
    if not sheet.weekly:
        one = sheet.orders[0]
        left_out = f" without {' and '.join(map(plain, sheet.without.suppliers))}" if sheet.without is not None else ""
        these = f"no order for these pieces{left_out}"
        found = [f"{write.money_named(one.money)}: " + known(one, f"{these} is cheaper", f"{these} can cost", write)]
    else:
        found = [f"week {one.weeks[0]}, {write.money_named(one.money)}: " + known(
            one, "no order for this week alone, after the weeks before it, is cheaper",
            "no order for this week alone, after the weeks before it, can cost", write) for one in sheet.orders]
    return found + ([without_line(sheet, sheet.without, write)] if sheet.without is not None else [])


def known(one: PlacedOrder, proven: str, cannot: str, write: Writer) -> str:
    if one.proven:
        return f"proven by search, {proven}"
    gap = one.money - one.bound
    return (f"not proven, but {cannot} less than {write.money_named(one.bound)}; it could at most be "
            f"{write.money_at_most(gap)} cheaper ({percent(waste_percent(gap, one.money))} %)")


def without_line(sheet: OrderSheet, without: Without, write: Writer) -> str:
    names = " and ".join(map(plain, without.suppliers))
    bound = sheet.orders[0].bound
    least, most = bound - without.money, sheet.orders[0].money - without.bound
    said = f"without {names}; with all suppliers the order costs {write.money_named(without.money)}"
    if least == most:
        return f"{said}, so {names} saves {write.money_named(most)}"
    return f"{said}, so {names} saves {write.money_named(max(least, Fraction(0)))} to {write.money_at_most(most)}"


def hardware_line(sheet: OrderSheet, write: Writer) -> str:
    """The sum with the hardware that has a price."""
    priced = [one.amount for one in sheet.hardware if one.amount is not None]
    whole = write.money_named(total(sheet.orders) + sum(priced, Fraction(0)))
    if not priced:
        return f"Sticks and freight come to {whole}; what the hardware costs is not said."
    lacking = ", of which some has no price," if len(priced) < len(sheet.hardware) else ""
    return f"Sticks, freight and hardware{lacking} come to {whole}."


# ---- for other programs ----


def order_csv(sheet: OrderSheet) -> str:
    return as_csv(order_listing(sheet))


def order_listing(sheet: OrderSheet) -> Listing:
    """`week` is empty where one order is for all weeks."""
    return listing("order", ORDER, (
        (one.profile, measure(line.stock.length), line.needed, line.there, line.ordered, line.stock.bundle,
         line.stock.min_order, number(line.each), number(line.money), line.left, line.stock.supplier, line.stock.code,
         order.weeks[0] if sheet.weekly else "")
        for order in sheet.orders for one in order.profiles for line in one.lines))


def order_json(sheet: OrderSheet, unit: str, currency: str) -> str:
    whole = total(sheet.orders)
    return written({
        "unit": unit,
        "currency": currency,
        "money": whole,
        "bound": sheet.bound,
        "status": status(whole, sheet.bound),
        "orders": [{
            "weeks": list(order.weeks), "money": order.money, "bound": order.bound,
            "status": status(order.money, order.bound),
            "suppliers": [{"supplier": bill.supplier, "goods": bill.goods, "freight": bill.freight,
                           "money": bill.money} for bill in order.bills],
            "profiles": [profile_fields(one) for one in order.profiles],
        } for order in sheet.orders],
        "profiles": profiles_of(sheet),
        **({"without": {"suppliers": list(sheet.without.suppliers), "money": sheet.without.money,
                        "bound": sheet.without.bound}} if sheet.without else {}),
        **({"budget": {"amount": sheet.within.amount, "now": list(sheet.within.now), "wait": list(sheet.within.wait),
                       "proven": sheet.within.proven}} if sheet.within else {}),
        **({"hardware": as_json(sheet.hardware)} if sheet.hardware else {}),
    }) + "\n"


def status(money: Fraction, bound: Fraction | None) -> str:
    return "search" if bound is not None and bound >= money else "gap"


def profiles_of(sheet: OrderSheet) -> list[Mapping[str, object]]:
    """Each profile's lines, of all orders one after the other."""
    return [{**profile_fields(one), "weeks": list(order.weeks)} for order in sheet.orders for one in order.profiles]


def profile_fields(one: ProfileOrder) -> dict[str, object]:
    return {
        "profile": one.profile, "money": one.money,
        "lengths": [{
            "length": line.stock.length, "needed": line.needed, "on_hand": line.there, "ordered": line.ordered,
            "each": line.each, "money": line.money, "left_over": line.left, "supplier": line.stock.supplier,
            "code": line.stock.code} for line in one.lines],
    }
