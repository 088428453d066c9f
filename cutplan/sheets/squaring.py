"""How a stick is begun: which end is squared, by how much, and what can be measured of that afterwards."""

from __future__ import annotations

import math

from cutplan.plans.records import ProfilePlan, Stick
from cutplan.sheets.tape import shortage
from cutplan.sheets.words import Writer
from cutplan.shop import Routing


def squaring_words(profile: ProfilePlan, stick: Stick, routing: Routing, write: Writer) -> str:
    """Which end of a stick with holes is 0, by its first hole, and where that hole is once the end is squared.

    An end is told from the other only where the two are written differently.
    """
    said = write.length
    first = stick.first_from_squared(routing.pitch)
    sawn = profile.begins_sawn(stick)
    other = (stick.length - first) % routing.pitch
    if sawn and stick.tail_trim:  # its other end is not sawn
        end = f"the sawn end: its first hole is {said(first)} from it"
    elif said(first) == said(other):
        end = f"either {'sawn end' if sawn else 'end'}: its first hole is {said(first)} from it"
    else:
        end = f"the {'sawn end' if sawn else 'end'} whose first hole is {said(first)} from it"
    if not stick.head_trim:
        return f"begin at {end}"
    then = first - stick.head_trim
    then += max(0, math.ceil(-then / routing.pitch)) * routing.pitch
    return f"square {end}; take off {said(stick.head_trim)}, kerf included: the first hole is then {said(then)} from 0"


def shortage_words(profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """What is said of a stick so full that rounded figures may leave its last piece short; "" of any other."""
    short = shortage(profile, stick, write.tape)
    if not short:
        return ""
    return (f"figures marked ~ add up: the last piece may come out short by up to {write.at_most(short)}; keep the "
            "cuts before it to the short side of their marks")
