"""A shop and its pieces, said in Python: each argument is read as a shop file's key or a pieces file's cell is.

A problem names the script and the line of the call, and the argument.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from cutplan.api.calls import Limit, Listener, Spared, budget_of, no_limit, no_share, share_of
from cutplan.callers import admit, no_listener, script_line
from cutplan.ends import ANY_FACE, read_end
from cutplan.orders import CENTRINGS, Piece
from cutplan.planning.result import Result
from cutplan.planning.solve import solve
from cutplan.problems import Findings, suggest
from cutplan.shop import Profile, Shop, shop_in
from cutplan.shop.profiles import read_profile, read_stock
from cutplan.shop.sawing import SAW_KEYS
from cutplan.tomllines import Section, refuse_unprintable

Given = Any  # a text as on a tape, a whole number, a Fraction or a Decimal; a float is refused
SAW = ("kerf", "shortest_held", "shortest_clamped", "stack", "bench", *SAW_KEYS)


@dataclass
class ModelProfile:
    """A profile of a model, to which lengths of stock are added."""

    model: Model
    name: str

    def add_stock(self, length: Given, *, price: Given = None, qty: int | None = None, **terms: Any) -> ModelProfile:
        """One length that the profile is sold in.

        Parameters
        ----------
        length
            Of a stick, such as "16 ft", 192 or Fraction(192), in the model's unit where it says none.
        price
            Of one stick; without one it costs what the profile costs by length, or else its length.
        qty
            How many there are; None: any number.
        terms
            `bundle`, `min_order`, `price_breaks`, as in a shop file.

        Raises
        ------
        InputProblems
            Names the argument.
        """
        given = said(length=length, price=price, qty=qty, **terms)
        with Call(given, self.model.unit) as call:
            before = self.model.profiles[self.name]
            stock = read_stock(call.section, before.price_per_length)
            after = replace(before, stock=(*before.stock, stock))
            if call.section.sound("length") and after.longest_piece(stock) <= 0:
                call.section.report("length", "the trims leave nothing of it; a longer stick is needed")
        self.model.profiles[self.name] = after
        return self


class Model:
    """A shop's profiles and the pieces to cut from them, built call by call.

    Parameters
    ----------
    unit
        "in" or "mm", of every number without a unit.
    kerf
        What the saw takes at each cut.
    keys
        `name`, `currency`, `tape`, `shortest_held`, `shortest_clamped`, `stack`, `bench`, `setup_minutes`,
        `cut_seconds`, `stick_seconds`, `hourly`, as in a shop file.

    Examples
    --------
    >>> import cutplan as cp
    >>> m = cp.Model(unit="in", kerf="1/8 in")
    >>> rail = m.add_profile("rail", head_trim="1/2 in", keep_from="36 in")
    >>> _ = rail.add_stock("16 ft", price="41.20")
    >>> m.add_piece(rail, "34 7/8 in", qty=10, mark="R1")
    >>> r = m.solve(limit=60)
    >>> str(r.cost), r.is_proven()
    ('412/5', True)
    """

    def __init__(self, unit: str = "in", kerf: Given = 0, **keys: Any) -> None:
        given = said(unit=unit, **keys)
        given["saw"] = said(kerf=kerf, **{key: given.pop(key) for key in SAW if key in given})
        given["profiles"] = {"none": {"kind": "other", "stock": [{"length": "1 m"}]}}
        with Call(given, "in") as call:
            self._bare = shop_in(call.section)
        self.unit = unit
        self.profiles: dict[str, Profile] = {}
        self.pieces: list[Piece] = []

    def add_profile(self, name: str, *, kind: str = "other", routing: Mapping[str, Given] | None = None, **keys: Any
                    ) -> ModelProfile:
        """A profile, as yet without stock.

        Parameters
        ----------
        name
            By which pieces ask for it.
        kind
            "rail", "picket", "insert", "upright" or "other".
        routing
            `pitch` and `first` of holes that are in its sticks already; None: there are none.
        keys
            `kerf`, `head_trim`, `tail_trim`, `keep_from`, `one_per_stick`, `most_trim`, `price_per_length`, `carrying`,
            and for angled ends `face` and `may_turn`, as in a shop file.

        Raises
        ------
        InputProblems
            Names the argument.
        """
        given = said(kind=kind, routing=dict(routing) if isinstance(routing, Mapping) else routing, **keys)
        with Call(given, self.unit) as call:
            if not isinstance(name, str) or not name:
                call.section.report("name", "is empty or no text; write what the profile is called")
            elif name in self.profiles:
                call.section.report("name", f"'{name}' is there already; give another name")
            profile = read_profile(name, call.section, [], self._bare.kerf)
        self.profiles[name] = profile
        return ModelProfile(self, name)

    def add_piece(self, profile: ModelProfile | str, length: Given, qty: int = 1, mark: str = "", *, for_: str = "",
                  centred: str = "", each: int | None = None, left_in: Given = None, right_in: Given = None) -> None:
        """Pieces of one length.

        Parameters
        ----------
        profile
            What `add_profile` gave, or its name.
        length
            Such as "34 7/8 in", 886 or Fraction(279, 8), in the model's unit where it says none.
        qty
            How many.
        mark
            What they are called on every sheet; "": after their profile and length.
        for_
            The gate or bay they are for.
        centred
            Where the profile has holes: what their middle falls on, "hole", "space" or "either".
        each
            How many belong to one gate or bay, where they are turned from blanks.
        left_in, right_in
            How far the bottom corner of that end lies inside its top corner, negative: beyond; a length, or over the
            profile's face a slope such as "7 5/8:10" or an angle such as "45 deg". None: a square end.

        Raises
        ------
        InputProblems
            Names the argument.
        """
        given = said(length=length, qty=qty, mark=mark, for_=for_, centred=centred, each=each, left_in=left_in,
                     right_in=right_in)
        name = profile.name if isinstance(profile, ModelProfile) else profile
        with Call(given, self.unit) as call:
            section = call.section
            if isinstance(profile, ModelProfile) and profile.model is not self:
                section.report("profile", f"{name!r} is a profile of another model; give one of this model's")
            elif not isinstance(name, str) or name not in self.profiles:
                near = suggest(str(name), self.profiles)
                section.report("profile", f"{name!r} is not a profile of the model; {near}")
            exact = section.length("length", example='"34 7/8 in"', zero_ok=False)
            many, together = section.whole("qty", 1, least=1), section.whole_or_none("each", least=1)
            if (lies := section.text("centred")) not in ("", *CENTRINGS):
                section.report("centred", f"{lies!r} is nothing to centre on; write {', '.join(CENTRINGS)}")
            called = section.text("mark") or f"{name} {length}"
            opening = section.text("for_")
            face = self.profiles[name].face if section.sound("profile") else ANY_FACE
            ends = [section.read(end, (Fraction(0), ""), lambda text: read_end(text, self.unit, face), "")
                    for end in ("left_in", "right_in")]
        (left, *_), (right, *_) = ends
        notes = tuple(note for _, note in ends if note)
        self.pieces.append(Piece(called, name, exact, many, opening, call.file, call.line, lies, each=together or 0,
                                 left_in=left, right_in=right, notes=notes))

    def shop(self) -> Shop:
        """The model's shop, as `read_shop` would give it."""
        return replace(self._bare, profiles=dict(self.profiles), notes=())

    def solve(self, limit: Limit = 60.0, progress: Listener | None = None, *, spare: Spared = None) -> Result:
        """The plan for all pieces; see `cutplan.cut`.

        Raises
        ------
        InputProblems
            A profile without stock, and whatever else cannot be cut.
        NoPlan
            A piece is longer than any stick it could come from, or stock that is limited runs out.
        """
        admit(limit=no_limit(limit), progress=no_listener(progress), spare=no_share(spare))
        with Call({}, self.unit) as call:
            for name in dict.fromkeys(piece.profile for piece in self.pieces):
                if not self.profiles[name].stock:
                    call.section.report(name, "has no stock; add a length with add_stock")
            if not self.pieces:
                call.section.report("pieces", "there is none; add some with add_piece")
        return solve(self.pieces, self.shop(), budget_of(limit, progress), spare=share_of(spare))


def said(**given: Any) -> dict[str, Any]:
    """The arguments that say something."""
    return {key: value for key, value in given.items() if value is not None}


class Call:
    """One call from outside: its arguments as a section of a shop file, and the script and line that made it."""

    def __init__(self, given: dict[str, Any], unit: str) -> None:
        self.file, self.line = script_line()
        self.section = Section(given, (), Findings(self.file), {(): self.line}, unit)
        refuse_unprintable(self.section, given, ())

    def __enter__(self) -> Call:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:
            self.section.findings.raise_any()
