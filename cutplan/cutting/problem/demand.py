"""What is asked of one profile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from cutplan.cutting.arrangement.choosing import arranger_of
from cutplan.cutting.arrangement.protocol import Arranger, Asked
from cutplan.cutting.problem.instance import Instance, build_instance
from cutplan.cutting.problem.stock import kinds_of_stock, refuse_length
from cutplan.ends import lying
from cutplan.lengths import Ratio, added, exact_decimal
from cutplan.orders import Piece
from cutplan.plans.records import Demand
from cutplan.plausible import DECIMALS, MOST_STEPS, MOST_TOGETHER
from cutplan.problems import InputProblems, NoPlan, Problem
from cutplan.shop import Profile, Shop
from cutplan.sums import granule

NAMED = 3  # marks, of those that ask for what cannot be had


def refuse_misplaced(pieces: Sequence[Piece], shop: Shop) -> None:
    """InputProblems for pieces that cannot lie as they are asked to, whatever the stock, and for more pieces or finer
    lengths than can be meant."""
    problems = [*too_many(pieces), *too_fine(pieces, shop)]
    arrangers = {name: arranger_of(profile) for name, profile in shop.profiles.items()}
    for piece in pieces:
        problems += arrangers[piece.profile].refuses(piece)
    if problems:
        raise InputProblems(problems)


def too_many(pieces: Sequence[Piece]) -> Iterator[Problem]:
    """Says so where all pieces together are more than a shop cuts, at the line that asks for the most."""
    if (total := sum(piece.qty for piece in pieces)) > MOST_TOGETHER:
        most = max(pieces, key=lambda piece: piece.qty)
        yield Problem(most.file, most.line, "qty", f"all lines together come to {total:,} pieces, {most.qty:,} of them "
                      f"here; at most {MOST_TOGETHER:,} are cut together, so check the quantities, or plan in parts")


def too_fine(pieces: Sequence[Piece], shop: Shop) -> Iterator[Problem]:
    """Says so where the lengths of a profile have no step in common that is worth the name, at the finest of them."""
    for profile in shop.profiles.values():
        own = [piece for piece in pieces if piece.profile == profile.name]
        lengths = {piece.length for piece in own}
        total = added((piece.qty, piece.length) for piece in own)
        lost = profile.kerf, profile.head_trim, profile.tail_trim, *(entry.length for entry in profile.stock)
        if own and total / granule({*lengths, *lost}) > MOST_STEPS:
            finest = max(own, key=lambda piece: piece.length.denominator)
            yield Problem(finest.file, finest.line, "length", f"{exact_decimal(finest.length)} is too fine beside the "
                          f"other lengths of {profile.name}; round them to {DECIMALS - 2} decimals or fewer")


def demand_of(pieces: Sequence[Piece], profile: Profile) -> list[Demand]:
    """The pieces of one profile; lines of one mark and length are added up."""
    found: dict[tuple[str, Ratio, str, str], Demand] = {}
    arranger = arranger_of(profile)
    for piece in pieces:
        if piece.profile == profile.name:
            _, lies, each = asked_of(piece, profile, arranger)
            key = (piece.mark, piece.length.as_integer_ratio(), piece.for_, lies)
            if (before := found.get(key)) is None:
                found[key] = Demand(piece.mark, piece.length, piece.qty, piece.for_, each=each, file=piece.file,
                                    line=piece.line, **lying(lies))
            else:
                qty = before.qty + piece.qty
                found[key] = replace(before, qty=qty, each=each if each == before.each else qty)
    return list(found.values())


def asked_of(piece: Piece, profile: Profile, arranger: Arranger | None = None) -> Asked:
    """What a piece of this profile asks of the cutter; `arranger` is the profile's, where it is at hand."""
    return piece.length, (arranger or arranger_of(profile)).asks(piece), piece.together if profile.one_per_stick else 1


def quantities(demand: Sequence[Demand]) -> dict[Asked, int]:
    """How many pieces are asked for of each length and way of lying, and of each number that belongs together."""
    counts: dict[Asked, int] = {}
    for entry in demand:
        key = entry.length, entry.lies, entry.each
        counts[key] = counts.get(key, 0) + entry.qty
    return counts


def instance_of(profile: Profile, demand: Sequence[Demand]) -> Instance:
    """The integer instance of what is asked. Raises NoPlan, which names who asks for what cannot be had."""
    asked = quantities(demand)
    try:
        return build_instance(profile, asked)
    except NoPlan as nothing:
        alone = {key for key in asked if not possible(profile, key)}
        lost = [entry for entry in demand if (entry.length, entry.lies, entry.each) in alone]
        raise NoPlan(f"{nothing} ({named(lost)})") from None


def refuse_hopeless(pieces: Sequence[Piece], shop: Shop) -> None:
    """Raises NoPlan, for all profiles together, where lengths alone say that no stick yields a piece: before anything
    is searched."""
    lacking = []
    for profile in shop.profiles.values():
        arranger = arranger_of(profile)
        asked = [*{asked_of(piece, profile, arranger) for piece in pieces if piece.profile == profile.name}]
        try:
            refuse_length(profile, arranger, asked, kinds_of_stock(profile, arranger))
        except NoPlan:
            refuse_misplaced(pieces, shop)  # slips come first
            try:
                instance_of(profile, demand_of(pieces, profile))
            except NoPlan as nothing:
                lacking.append(str(nothing))
    if lacking:
        raise NoPlan("\n".join(lacking))


def possible(profile: Profile, asked: Asked) -> bool:
    """Whether a stick of the profile gives one such piece."""
    try:
        build_instance(profile, {asked: 1})
    except NoPlan:
        return False
    return True


def named(demand: Sequence[Demand]) -> str:
    """Who asks, and where: the first few marks, each with its file and line."""
    said = [entry.mark + (f", {entry.file}:{entry.line}" if entry.file else "") for entry in demand]
    rest = [f"{len(said) - NAMED} more"] if len(said) > NAMED else []
    return "; ".join([*said[:NAMED], *rest])
