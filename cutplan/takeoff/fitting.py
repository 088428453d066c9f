"""What does not fit in an opening, in words that say what would be right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from cutplan.orders import Order
from cutplan.problems import Findings, InputProblems
from cutplan.shop import Shop, System
from cutplan.takeoff.assembly import along
from cutplan.takeoff.heights import Heights
from cutplan.takeoff.panels import Panel, narrowest
from cutplan.takeoff.pickets import (
    EndGaps,
    PicketLayout,
    RailHoles,
    empty_in_sight,
    hiding,
    nearest_fit,
    plain_layout,
    routed_fits,
    routed_layouts,
)
from cutplan.takeoff.words import say, say_down, say_near, say_up


@dataclass(frozen=True)
class Fit:
    """One line of the week beside what its allowances make of it; `panel` stands for each of its `panels`, leaves or
    bays."""

    order: Order
    system: System
    shop: Shop
    panel: Panel
    levels: Heights
    found: Findings
    panels: int = 1

    @property
    def column(self) -> str:
        """The column of the opening that decides."""
        return "opening" if narrowest(self.order) == self.order.opening else "opening_bottom"

    def opening(self, clear: Fraction) -> Fraction:
        """The opening whose leaves or bay would be so wide in the clear."""
        return narrowest(self.order) + self.panels * (clear - self.panel.clear)

    def report(self, column: str, message: str) -> None:
        self.found.add(self.order.line, column, message)

    def say(self, length: Fraction) -> str:
        return say_near(length, self.shop.unit, self.shop.tape)

    def at_least(self, length: Fraction) -> str:
        return say_up(length, self.shop.unit, self.shop.tape)

    def at_most(self, length: Fraction) -> str:
        return say_down(length, self.shop.unit, self.shop.tape)

    def exactly(self, length: Fraction) -> str:
        """Where two lengths that differ must not read alike."""
        return say(length, self.shop.unit)


def check_widths(fit: Fit) -> None:
    """Notes a clear width or inserts that leave nothing."""
    insert = fit.panel.clear + 2 * fit.panel.hidden - fit.system.insert_short if fit.system.insert else None
    for name, left in (("clear width", fit.panel.clear), ("insert", insert)):
        if left is not None and left <= 0:
            needed = fit.opening(fit.panel.clear - left)
            fit.report(fit.column, f"{fit.say(narrowest(fit.order))} leaves {fit.say(left)} of {name}; more than "
                                   f"{fit.at_least(needed)} is needed")


def check_heights(fit: Fit) -> None:
    """Notes a picket, panel or upright that leaves nothing, and rails that are not where rails can be."""
    order, levels = fit.order, fit.levels
    lengths = {"picket": levels.picket, "room between the rails": levels.least_room}
    if order.kind == "gate":
        lengths["upright"] = levels.top - levels.foot
    name, left = min(lengths.items(), key=lambda one: one[1])
    if left <= 0:
        fit.report("height", f"{fit.say(order.height)} leaves {fit.say(left)} of {name}; more than "
                             f"{fit.at_least(order.height - left)} is needed")
    under = levels.rails[0]
    if order.kind == "gate" and under.low < levels.foot:
        fit.report("system", f"the bottom rail would lie {fit.say(under.low)} above the ground, and the uprights begin "
                             f"{fit.say(levels.foot)} above it; a below_bottom_rail of at least that is needed")
    if order.kind == "run":
        check_posts(fit)
    check_pickets(fit)
    check_hinges(fit)
    if levels.room > 0:
        check_mid_rails(fit)
        check_brace(fit)


def check_rake(fit: Fit) -> None:
    """Notes rails that cannot lie along a rake: with holes, without a face to cut the ends over, or too short."""
    if not fit.order.slope:
        return
    names = {"top rail": fit.system.top_rail, "mid rail": fit.system.mid_rail, "bottom rail": fit.system.bottom_rail}
    for rail, profile in names.items():
        known = fit.shop.profiles[profile] if profile else None
        if known is None:
            continue
        if known.routing:
            fit.report("rake", f"the holes of the {rail} '{profile}' are square to it and at a fixed pitch, and the "
                               "pickets of a raked opening stand plumb; choose a system of rails without routing")
        elif known.face is None:
            fit.report("rake", f"the ends of the {rail} are cut plumb over its face, and profile '{profile}' has none; "
                               f"write face in [profiles.{profile}]")
        elif known.one_per_stick:
            fit.report("rake", f"the {rail} '{profile}' is cut from blanks, which have square ends; choose a system of "
                               "rails without one_per_stick")
    length = along(fit.panel.clear + 2 * fit.panel.hidden, fit.order.slope, fit.shop.tape)
    if length <= (fit.system.insert_short if fit.system.insert else 0):
        fit.report("opening", f"leaves rails of {fit.say(length)} along the rake, and nothing of what lies in them; a "
                              "wider opening is needed")


def check_posts(fit: Fit) -> None:
    """Notes posts that end below the top of the rails they carry."""
    rule, upper = fit.system.run, fit.levels.rails[-1].high
    if rule and rule.post_above < upper:
        fit.report("height", f"the top rail's upper edge would be {fit.say(upper)} above the ground, and the posts end "
                             f"{fit.say(rule.post_above)} above it; a post_above of at least {fit.at_least(upper)} in "
                             f"[systems.{fit.system.name}.run] is needed")


def check_pickets(fit: Fit) -> None:
    """Notes pickets that would come out of the rails down to below the ground or a gate's feet, or over the height."""
    levels, system = fit.levels, fit.system
    if levels.room <= 0 or levels.picket <= 0:
        return
    low, high = levels.rails[0].high - levels.seat, levels.rails[-1].low + levels.seat
    slant = abs(fit.order.slope) * system.picket_width / 2  # by which square ends reach on at one side
    under, over = levels.foot - low + slant, high + slant - levels.top
    if max(under, over) <= 0:
        return
    foot = "feet of the uprights" if levels.foot else "ground"
    where = (f"would end {fit.say(under)} below the {foot}" if under >= over
             else f"would stand {fit.say(over)} over the height of {fit.say(levels.top)}")
    allowance = system.picket_allowance + 2 * max(under, over)
    rows = len(levels.rails) > 2 and system.pickets_at_mid_rail == "between"
    which = "pickets between rails" if rows else f"pickets {fit.say(levels.picket)} long"
    fit.report("height", f"{which} {where}; a picket_allowance of at least "
                         f"{fit.at_least(allowance)} for '{system.name}' is needed")


def check_hinges(fit: Fit) -> None:
    """Notes hinges that the shop file has off the uprights, and a latch below them or more than twice as high."""
    gate, foot, top = fit.system.gate, fit.levels.foot, fit.levels.top
    for up in gate.hinges_at if gate and fit.order.kind == "gate" else ():
        if not foot < up < top:
            fit.report("height", f"a hinge {fit.say(up)} above the ground would not be on the uprights, which go from "
                                 f"{fit.say(foot)} to {fit.say(top)}; see hinges_at of '{fit.system.name}'")
    latch = gate.latch_height if gate and fit.order.kind == "gate" else None
    if latch is not None and not foot < latch <= 2 * top:
        fit.report("height", f"a latch {fit.say(latch)} above the ground would be far from the uprights, which go from "
                             f"{fit.say(foot)} to {fit.say(top)}; see latch_height of '{fit.system.name}'")


def check_mid_rails(fit: Fit) -> None:
    """Notes mid rails that meet another rail, and rows of pickets between them that leave nothing."""
    rails, seat = fit.levels.rails, fit.levels.seat
    if fit.system.pickets_at_mid_rail == "between":
        for rail in rails[1:-1]:
            if 2 * seat > rail.high - rail.low:
                more = fit.at_least(2 * seat - rail.high + rail.low)
                fit.report("system", f"pickets {fit.say(seat)} deep in each rail would meet inside a mid rail "
                                     f"{fit.say(rail.high - rail.low)} high; a picket_allowance {more} larger would "
                                     "do, or pickets through it")
                break
    for under, over in pairwise(rails):
        at_least = over.low - under.high
        if len(rails) > 2 and at_least <= 0:
            how = f"meet, {fit.say(-at_least)} one into the other" if at_least else "touch"
            fit.report("height", f"the {over.name} and the {under.name} below it would {how}; see mid_rails_at of "
                                 f"'{fit.system.name}'")
        elif len(rails) > 2 and fit.system.pickets_at_mid_rail == "between" and at_least + 2 * seat <= 0:
            fit.report("height", f"no picket would be left between the {under.name} and the {over.name}; see "
                                 f"picket_allowance and mid_rails_at of '{fit.system.name}'")


def check_brace(fit: Fit) -> None:
    """Notes a brace so wide that it does not lie from corner to corner: (face / 2) x diagonal >= width x height."""
    width, height = fit.panel.clear, fit.levels.room
    if fit.order.kind != "gate" or not fit.system.brace or width <= 0 or height <= 0:
        return
    face = fit.shop.profiles[fit.system.brace].face or Fraction(0)
    if face**2 * (width**2 + height**2) >= 4 * width**2 * height**2:
        fit.report("system", f"the brace is too wide for a frame of {fit.say(width)} by {fit.say(height)} inside; a "
                             "narrower profile is needed")


def holes_of(system: System, shop: Shop) -> dict[str, RailHoles]:
    """The holes of the rails that have any, by the rail's name; as wide as a picket unless the shop file says."""
    names = {"top rail": system.top_rail, "mid rail": system.mid_rail, "bottom rail": system.bottom_rail}
    routings = {rail: shop.profiles[name].routing for rail, name in names.items() if name}
    return {rail: RailHoles(routing.pitch, routing.hole or system.picket_width)
            for rail, routing in routings.items() if routing}


def find_layouts(fit: Fit) -> list[PicketLayout]:
    """The layouts that fit, the best first. InputProblems where none does, or where anything was found before."""
    holes = find_holes(fit)
    if fit.panel.clear <= 0:
        fit.found.raise_any()
    if fit.panel.splay > fit.system.max_gap:
        fit.report("opening_bottom", f"each end gap would be {fit.say(fit.panel.splay)} wider at the wide end, more "
                                     f"than the widest gap, {fit.say(fit.system.max_gap)}, is; make the posts plumb")
        fit.found.raise_any()
    check_lean(fit)
    layouts = [fit_plain(fit)] if holes is None else fit_routed(fit, holes)
    fit.found.raise_any()
    return layouts


def check_lean(fit: Fit) -> None:
    """Notes an opening so much wider at one end that a leaf made for the other leaves too wide a gap there."""
    order, widest = fit.order, fit.system.max_gap
    lean = max(order.opening, order.opening_bottom or order.opening) - narrowest(order)
    if order.kind == "gate" and lean / 2 > widest:
        fit.report("opening_bottom", f"each gap beside the gate would be {fit.say(lean / 2)} wider at the wide end, "
                                     f"more than the widest gap, {fit.say(widest)}, is; make the posts plumb")


def find_holes(fit: Fit) -> RailHoles | None:
    """The holes that pickets must go by, the widest of all rails'; None where all are plain. Notes unusable ones."""
    rails = holes_of(fit.system, fit.shop)
    if not rails:
        return None
    (one, first), (other, last) = min(rails.items(), key=pitch_of), max(rails.items(), key=pitch_of)
    if first.pitch != last.pitch:
        fit.report("system", f"the holes of the {one} are {fit.exactly(first.pitch)} apart and those of the {other} "
                             f"{fit.exactly(last.pitch)}; a system needs rails of one pitch")
    if first.pitch < fit.system.picket_width:
        fit.report("system", f"holes {fit.exactly(first.pitch)} apart are too close for pickets "
                             f"{fit.exactly(fit.system.picket_width)} wide; a pitch of at least that is needed")
    return max(rails.values(), key=lambda holes: holes.size)


def pitch_of(rail: tuple[str, RailHoles]) -> Fraction:
    return rail[1].pitch


def fit_plain(fit: Fit) -> PicketLayout:
    """The layout on plain rails. Notes pickets that are wider than the clear width."""
    panel, system = fit.panel, fit.system
    rail = panel.clear + 2 * panel.hidden
    layout = plain_layout(rail, panel.hidden, system.picket_width, system.max_gap, panel.splay)
    if layout.gap < 0:
        fewer, widest = layout.count - 1, system.max_gap - panel.splay
        at_most = fit.opening(fewer * system.picket_width + layout.count * widest)
        at_least = fit.opening(layout.count * system.picket_width)
        fit.report(fit.column, f"a clear width of {fit.say(panel.clear)} is too narrow for {layout.count} of the "
                               f"pickets, and with {fewer} the gaps are too wide; an opening of at most "
                               f"{fit.at_most(at_most)} or at least {fit.at_least(at_least)} would do")
    return layout


def fit_routed(fit: Fit, holes: RailHoles) -> list[PicketLayout]:
    """The layouts that will do on rails with such holes, the wider end gap first. InputProblems for none."""
    panel, system = fit.panel, fit.system
    rail = panel.clear + 2 * panel.hidden
    seen = replace(holes, size=holes.size + 2 * panel.splay)
    if will_do := routed_fits(rail, panel.hidden, system.picket_width, seen, ends_of(system), panel.splay):
        return will_do
    layouts = routed_layouts(rail, panel.hidden, system.picket_width, holes.pitch, panel.splay)
    gaps = " and ".join(gap_said(layout, seen, fit) for layout in layouts)
    wanted = f"{fit.exactly(system.min_end_gap)} to {fit.exactly(system.max_gap)} is wanted"
    fit.report(fit.column, f"the end gap would be {gaps}; {wanted}; " + cure(fit, seen, layouts))
    raise InputProblems(fit.found.problems)


def ends_of(system: System) -> EndGaps:
    return EndGaps(system.min_end_gap, system.max_gap, system.plugged)


def gap_said(layout: PicketLayout, holes: RailHoles, fit: Fit) -> str:
    """The end gap of a layout, and whether an empty hole would be seen beside it."""
    said = f"{fit.exactly(layout.end_gap)} centred on a {layout.centred}"
    if layout.splay:
        said += f" ({fit.exactly(layout.wide_end_gap)} at the wide end)"
    shows = not fit.system.plugged and empty_in_sight(layout, holes)
    return said + (" (where part of an empty hole would show)" if shows else "")


def cure(fit: Fit, holes: RailHoles, layouts: Sequence[PicketLayout]) -> str:
    """The smallest change that would bring an end gap within its limits, in words."""
    system, order = fit.system, fit.order
    plugs = not system.plugged and any(
        system.min_end_gap <= layout.end_gap and layout.wide_end_gap <= system.max_gap for layout in layouts)
    also = f", or plugs in the open holes: plugged = true in system '{system.name}'" if plugs else ""
    change = nearest_fit(fit.panel.clear, system.picket_width, holes, ends_of(system), fit.panel.splay)
    if change is None:
        most = system.max_gap if system.plugged else min(system.max_gap, hiding(system.picket_width, holes))
        return (
            f"no opening would do: give system '{system.name}' a min_end_gap that is less than the pitch and "
            f"not more than {fit.exactly(most)}{also}"
        )
    by = fit.exactly(abs(change) * fit.panels)
    words = f"an opening {by} {'wider' if change > 0 else 'narrower'} would do"
    if order.kind == "gate" and order.leaves == 1 and system.gate and system.gate.latch_gap >= change:
        words += f", or a latch gap {by} {'narrower' if change > 0 else 'wider'}"
    return words + also


def plugs(layout: PicketLayout, panel: Panel, levels: Heights, system: System, shop: Shop) -> int:
    """The holes of all rails of a panel that stay empty and show, in part or whole."""
    holes = holes_of(system, shop)
    return sum(empty_in_sight(layout, wider) for rail, wider in widened(holes, panel, levels))


def widened(holes: dict[str, RailHoles], panel: Panel, levels: Heights) -> Iterator[tuple[str, RailHoles]]:
    """The holes of each rail, each as wide as by the narrow end's clear width it comes into sight."""
    for rail in levels.rails:
        if rail.name in holes:
            left, right = panel.rail(levels.share(rail))
            more = right - left - 2 * panel.hidden - panel.clear
            yield rail.name, replace(holes[rail.name], size=holes[rail.name].size + more)
