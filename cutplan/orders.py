"""What is to be made: the week file (gates and bays) and the pieces file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction


@dataclass(frozen=True)
class Order:
    """One line of the week: `qty` gates or bays (`kind`) of a system, with the file and line it came from."""

    mark: str
    kind: str
    system: str
    qty: int
    opening: Fraction
    height: Fraction
    extra: Mapping[str, str] = field(default_factory=dict)
    file: str = ""
    line: int = 0


@dataclass(frozen=True)
class Piece:
    """`qty` pieces of one length of a profile, under one mark; `for_` names the gate or bay they belong to."""

    mark: str
    profile: str
    length: Fraction
    qty: int
    for_: str = ""
    file: str = ""
    line: int = 0
