"""Published code limits that reminders are printed of, and which of them a shop wants to hear. They decide nothing.

The edition is part of each limit because editions differ, and local amendments differ from all of them. A shop may add
limits of its own, from what applies where it builds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import quoted, written
from cutplan.problems import suggest
from cutplan.tomllines import Section

MM_PER_INCH = Fraction(127, 5)
OF = ("gap", "space below", "height")
KINDS_LIMITED = ("gate", "bay")
BOUNDS = {"at_most": ("most", False), "less_than": ("most", True), "at_least": ("least", False)}

NearSpan = tuple[Fraction, Fraction | None]


@dataclass(frozen=True)
class CodeLimit:
    """A published limit, in inches, with the millimetres that are published beside them.

    of:      what it limits: "gap", the widest that pickets leave; "space below", under the bottom rail or the leaf;
             "height"; "" for what the takeoff does not know
    mm:      what is published for `value` in millimetres, which governs there (None: nothing, so it is converted)
    least:   whether `value` is the least there may be; else the most
    strict:  the limit itself is already out ("shall not pass"); else it is still in ("shall not exceed")
    measure: what is looked at to tell whether an opening comes near it: one of `of`, or "rail tops", the least from the
             top of one rail to the top of the next
    near:    by kind of opening, the span of `measure` in which the reminder is printed, both ends included; a "rake" is
             a bay or run along one, and like any bay where nothing is said of it
    source:  the edition and section
    words:   what is printed; a number of inches stands in braces, with a bar the millimetres published for it behind
    known:   how the figures are known, where not from its text: "at second hand" or "from memory"; what is printed
             says only that they were not checked
    tops:    the span of "rail tops" for which it holds, the last end not included (None: any); where these are not
             known it is printed, and no more is said
    """

    value: Fraction
    of: str
    least: bool
    strict: bool
    measure: str
    near: Mapping[str, NearSpan]
    source: str
    words: str
    known: str = ""
    tops: NearSpan | None = None
    mm: Fraction | None = None

    def stands_at(self, unit: str) -> Fraction:
        """The limit in "in" or "mm"; one that is published in inches alone is converted (1 in = 25.4 mm exactly)."""
        if unit == "in":
            return self.value
        return self.value * MM_PER_INCH if self.mm is None else self.mm


def both(low: Fraction | int, high: Fraction | int | None = None) -> Mapping[str, NearSpan]:
    span = Fraction(low), None if high is None else Fraction(high)
    return {"gate": span, "bay": span}


POOL = both(46)  # heights from which a barrier of 48 may be meant; towns ask for 60 and more
CLOSE_RAILS = Fraction(45)  # the least from one rail's top to the next that makes a barrier hard to climb; 1143 mm
NEAR_FOUR = both(Fraction(7, 2))  # gaps from half an inch short of a limit
NEAR_FOUR_EIGHTHS = both(Fraction(31, 8))
ON_A_RAKE: Mapping[str, NearSpan] = {"rake": (Fraction(0), None)}  # whatever is beside a stair is near its limits

POOL_TOP = CodeLimit(  # both sets of pool barriers have it
    Fraction(48), "height", True, False, "height", POOL, "IRC Appendix G AG105.2(1); ISPSC 305",
    "the top of a pool barrier is at least {48|1219} up; local amendments often ask for {60}", mm=Fraction(1219),
)  # fmt: skip

SETS: Mapping[str, tuple[CodeLimit, ...]] = {
    "IRC 2018 guards": (
        CodeLimit(
            Fraction(4), "gap", False, True, "gap", NEAR_FOUR, "2018 IRC R312.1.3",
            "in a guard a {4|102} sphere shall not pass, so a gap of exactly {4|102} is already too wide",
            mm=Fraction(102),
        ),
        CodeLimit(
            Fraction(4), "space below", False, True, "space below", NEAR_FOUR, "2018 IRC R312.1.3",
            "under a guard's bottom rail a {4|102} sphere shall not pass", mm=Fraction(102),
        ),
        CodeLimit(
            Fraction(35, 8), "gap", False, True, "gap", {**NEAR_FOUR_EIGHTHS, **ON_A_RAKE}, "IRC R312.1.3, exceptions",
            "beside a stair a {35/8|111} sphere shall not pass, nor a {6} sphere through the triangle of tread, "
            "riser and bottom rail", "at second hand", mm=Fraction(111),
        ),
        CodeLimit(
            Fraction(36), "height", True, False, "height",
            {"gate": (Fraction(34), Fraction(38)), "bay": (Fraction(0), Fraction(38))},
            "2018 IRC R312.1.1 and R312.1.2",
            "where the drop is more than {30|762} at any place within {36|914}, measured level, a guard is called for, "
            "at least {36|914} high", mm=Fraction(914),
        ),
        CodeLimit(
            Fraction(34), "height", True, False, "height", {"bay": (Fraction(0), Fraction(36)), **ON_A_RAKE},
            "IRC R312.1.2, exceptions",
            "beside a stair a guard is at least {34} high, and {34} to {38} where its top is also the handrail",
            "at second hand",
        ),
    ),
    "IBC guards": (
        CodeLimit(
            Fraction(42), "height", True, False, "height", both(36, 44), "IBC 1015.3",
            "a guard under this code is at least {42|1067} high", "from memory", mm=Fraction(1067),
        ),
        CodeLimit(
            Fraction(4), "gap", False, True, "gap", NEAR_FOUR, "IBC 1015.4",
            "in a guard a {4|102} sphere shall not pass up to {36|914} high", "from memory", mm=Fraction(102),
        ),
        CodeLimit(
            Fraction(35, 8), "gap", False, True, "gap", NEAR_FOUR_EIGHTHS, "IBC 1015.4",
            "in a guard a {35/8|111} sphere shall not pass from {36|914} to {42|1067} high", "from memory",
            mm=Fraction(111),
        ),
        CodeLimit(
            Fraction(4), "space below", False, True, "space below", NEAR_FOUR, "IBC 1015.4",
            "under a guard a {4|102} sphere shall not pass", "from memory", mm=Fraction(102),
        ),
    ),
    "IRC Appendix G pool barriers": (
        POOL_TOP,
        CodeLimit(
            Fraction(7, 4), "gap", False, False, "height", POOL, "IRC Appendix G AG105.2(3)",
            "with rail tops less than {45|1143} apart a pool barrier has its rails on the pool side and no gap over "
            "{7/4|44}", tops=(Fraction(0), CLOSE_RAILS), mm=Fraction(44),
        ),
        CodeLimit(
            Fraction(4), "gap", False, False, "height", POOL, "IRC Appendix G AG105.2(4)",
            "with rail tops {45|1143} apart or more a pool barrier has no gap over {4|102}",
            tops=(CLOSE_RAILS, None), mm=Fraction(102),
        ),
        CodeLimit(
            Fraction(54), "", True, False, "height", {"gate": (Fraction(46), None)}, "IRC Appendix G AG105.2(8)",
            "a walk-through gate of a pool barrier opens outward, closes and latches by itself; a release lower "
            "than {54|1372} is on the pool side, at least {3} below the gate's top, with no opening over {1/2} within "
            "{18} of it", mm=Fraction(1372),
        ),
    ),
    "ISPSC pool barriers": (
        POOL_TOP,
        CodeLimit(
            Fraction(2), "space below", False, False, "height", POOL, "ISPSC 305.2.1",
            "the clearance below a pool barrier is not over {2|51}, or {4|102} above a solid surface", "from memory",
            mm=Fraction(51),
        ),
    ),
}  # fmt: skip


def limits_of(names: Iterable[str]) -> tuple[CodeLimit, ...]:
    """The limits of these sets, each once though two of them have it."""
    found: list[CodeLimit] = []
    for name in names:
        found += [limit for limit in SETS[name] if limit not in found]
    return tuple(found)


ALL = limits_of(SETS)


def read_codes(root: Section) -> tuple[CodeLimit, ...]:
    """The sets named, and the shop's own; where nothing is said all sets in a shop of inches and none in one of
    millimetres, which does not build in the United States."""
    if "codes" not in root.values:
        return ALL if root.unit == "in" else ()
    table = root.section("codes")
    table.only("apply", "own")
    names = table.texts("apply", '["IRC 2018 guards"], or [] for none')
    for name in names:
        if name not in SETS:
            table.report("apply", f"{quoted(name)} is no set that cutplan knows; {suggest(name, SETS)}")
    known = limits_of(name for name in names if name in SETS)
    own: list[Section] = []
    if "own" in table.values:
        own = table.entries("own", '[ { of = "gap", less_than = "100 mm", source = "its edition and section" } ]')
    return (*known, *(limit for one in own if (limit := read_own(one))))


def read_own(table: Section) -> CodeLimit | None:
    """A limit of the shop's own; None where something was reported."""
    table.only("of", "on", "source", *BOUNDS)
    of = table.choice("of", OF)
    on = read_kind(table) if "on" in table.values else ""
    source = table.text("source", example='"the edition and section it stands in"')
    said = [key for key in BOUNDS if key in table.values]
    if len(said) != 1:
        table.report(said[1] if said else "at_most", "write one of at_most, less_than and at_least")
        return None
    value = table.length(said[0], zero_ok=False)
    bound, strict = BOUNDS[said[0]]
    if not of or not table.sound("on", "source", said[0]):
        return None
    if (of == "height") != (bound == "least"):
        right = "at_least" if of == "height" else "at_most or less_than"
        table.report(said[0], f'is nothing that "{of}" has; write {right}')
        return None
    inches = value / (MM_PER_INCH if table.unit == "mm" else 1)
    word = {"gap": "a gap", "space below": "the space below", "height": "the height"}[of]
    rule = {"at_most": "is at most", "less_than": "is less than", "at_least": "is at least"}[said[0]]
    near = {kind: (Fraction(0), None) for kind in KINDS_LIMITED if on in ("", kind)}
    words = f"{word} {rule} {written(value, table.unit)} {table.unit}"
    return CodeLimit(inches, of, bound == "least", strict, "height", near, source, words,
                     mm=value if table.unit == "mm" else None)


def read_kind(table: Section) -> str:
    """The kind of opening that a limit is for; empty where it is none."""
    if table.values["on"] == "run":
        table.report("on", '"run" is not told apart: a run is reminded of what its bays are; write "bay"')
        return ""
    return table.choice("on", KINDS_LIMITED)
