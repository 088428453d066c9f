"""The command line: words in, calls, words out.

What a command needs is imported when it runs, so that help is quick.
"""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from cutplan.orders import Order, Piece
    from cutplan.shop import Shop

STDOUT = "-"
QUIET = 1.0  # seconds between two lines of progress, and before the first

app = typer.Typer(
    help="From a week of gates and railing bays to pieces, and from pieces to the best way to cut them.",
    add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=True,
)  # fmt: skip

ShopFile = Annotated[str, typer.Option("--shop", metavar="SHOP", help="Shop file: saw, profiles, systems.")]


def main() -> None:
    """Runs the command line. A fault of the tool itself is one line too, and exit status 1."""
    try:
        app()
    except Exception as fault:
        tell(f"cutplan has a fault of its own: {type(fault).__name__}: {fault}")
        sys.exit(1)


@app.command()
def takeoff(
    week: Annotated[str, typer.Argument(metavar="WEEK", help="The week file: a line for each gate or bay.")],
    shop: ShopFile,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the pieces to FILE, for cut to read; - prints.")
    ] = None,
) -> None:
    """Work out every piece of the week, and a layout card for each gate and bay."""
    with plainly():
        outputs = {"--csv": csv}
        check_outputs(outputs)
        loaded, orders = load(shop, week, outputs)

        from cutplan.sheets.csvout import pieces_csv
        from cutplan.sheets.takeoff import takeoff_text
        from cutplan.takeoff import take_off

        taken = take_off(only_orders(orders, week), loaded)
        texts = {csv: pieces_csv(taken.pieces)} if csv else {}
        deliver(texts, takeoff_text(taken, loaded.unit, loaded.tape))


@app.command()
def cut(
    work: Annotated[
        str, typer.Argument(metavar="WEEK_OR_PIECES", help="A week file, or a list of pieces already known.")
    ],
    shop: ShopFile,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the plan to FILE, for check to read; - prints.")
    ] = None,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the cut list to FILE; - prints.")
    ] = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a better plan than this.")
    ] = 60.0,
) -> None:
    """Plan how to cut the pieces: least cost of stock, then least length used up, then fewest set-ups."""
    with plainly():
        outputs = {"--json": json, "--csv": csv}
        check_outputs(outputs)
        check_limit(limit)
        loaded, wanted = load(shop, work, outputs)
        for note in loaded.notes:
            tell(note)

        from cutplan.cutting import cut_pieces
        from cutplan.cutting.audit import audit
        from cutplan.cutting.effort import Effort
        from cutplan.cutting.planfile import to_json
        from cutplan.sheets.csvout import cuts_csv
        from cutplan.sheets.plan import plan_text

        effort = Effort(limit)
        pieces = all_pieces(wanted, loaded, effort.share(2).left())
        plan = cut_pieces(pieces, loaded, effort.left(), Progress())
        if findings := audit(plan):
            tell("\n".join(["the plan failed its own audit; nothing is shown:", *findings]))
            raise typer.Exit(1)
        texts = {json: to_json(plan)} if json else {}
        texts |= {csv: cuts_csv(plan)} if csv else {}
        deliver(texts, plan_text(plan))


@app.command()
def check(plan: Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")]) -> None:
    """Prove a plan again by plain exact arithmetic, without what made it."""
    with plainly():
        from cutplan.cutting.audit import audit
        from cutplan.cutting.planfile import read_json
        from cutplan.cutting.proof import prove
        from cutplan.problems import Findings, read_text

        found = Findings(plan)
        read = read_json(read_text(plan), found)
        for finding in audit(read):
            place, _, what = finding.partition(": ")
            found.add(1, place, what)
        found.raise_any()
        results = [prove(profile) for profile in read.profiles]
        for k, proved in enumerate(results):
            if not proved.ok:
                found.add(1, f"profiles[{k}].proof", proved.line)
        found.raise_any()
        right = "Every piece asked for is cut, every cut fits its stick, and the sums are right."
        show("\n".join([right, *(printable(proved.line) for proved in results)]) + "\n")


# ---- words in ----


def check_outputs(outputs: Mapping[str, str | None]) -> None:
    """Standard output takes one thing."""
    alone = [option for option, target in outputs.items() if target == STDOUT]
    if len(alone) > 1:
        raise typer.BadParameter(f"{' and '.join(alone)} cannot both be {STDOUT}; give one of them a file")


def check_limit(limit: float) -> None:
    if not limit > 0:
        raise typer.BadParameter(f"--limit {limit:g} leaves no time; more than 0 seconds is needed")


def load(
    shop: str, work: str, outputs: Mapping[str, str | None]
) -> tuple[Shop, Sequence[Order] | Sequence[Piece]]:
    """What the files say. InputProblems also where an output could not be written, before any long work."""
    from cutplan.files import unwritable
    from cutplan.orders import load_inputs
    from cutplan.problems import InputProblems

    targets = [target for target in outputs.values() if target is not None and target != STDOUT]
    problems = unwritable(targets, (shop, work))
    try:
        loaded = load_inputs(shop, work)
    except InputProblems as wrong:
        raise InputProblems([*problems, *wrong.problems]) from None
    if problems:
        raise InputProblems(problems)
    return loaded


def only_orders(work: Sequence[Order] | Sequence[Piece], file: str) -> list[Order]:
    from cutplan.orders import Order
    from cutplan.problems import InputProblems, Problem

    orders = [entry for entry in work if isinstance(entry, Order)]
    if len(orders) < len(work):
        right = "a week file with mark,kind,system,qty,opening,height is needed; cut takes pieces as they are"
        raise InputProblems([Problem(file, 1, "file", f"is a list of pieces; {right}")])
    return orders


def all_pieces(work: Sequence[Order] | Sequence[Piece], shop: Shop, limit: float) -> Sequence[Piece]:
    """The pieces of a list of pieces, or those a week comes to; says how free rails were centred."""
    from cutplan.orders import Order, Piece
    from cutplan.takeoff import take_off

    orders = [entry for entry in work if isinstance(entry, Order)]
    if not orders:
        return [entry for entry in work if isinstance(entry, Piece)]
    if not any(system.free_centring for system in shop.systems.values()):
        return take_off(orders, shop).pieces
    from cutplan.centring import choose
    from cutplan.sheets.takeoff import centring_text

    chosen = choose(orders, shop, limit, Progress())
    if chosen is None:
        return take_off(orders, shop).pieces
    taken = take_off(orders, shop, chosen.centring)
    tell(centring_text(chosen, taken, shop))
    return taken.pieces


# ---- words out ----


def deliver(texts: Mapping[str, str], table: str) -> None:
    """Writes the files, then prints: what was asked for on standard output, alone, else the table."""
    from cutplan.files import write_whole

    write_whole({target: text for target, text in texts.items() if target != STDOUT})
    show(texts.get(STDOUT, table + "\n"), exactly=STDOUT in texts)


def show(text: str, exactly: bool = False) -> None:
    """Prints on standard output, `exactly` and in UTF-8 for other programs. InputProblems if it is full."""
    from cutplan.problems import InputProblems, Problem

    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8" if exactly else None, errors="replace")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # for what is still to be flushed
        if not isinstance(error, BrokenPipeError):  # a reader that has seen enough is no fault
            why = f"cannot be written ({error.strerror}); give it a place with room"
            raise InputProblems([Problem("standard output", 1, "file", why)]) from None


def tell(text: str) -> None:
    """Says something beside the result."""
    print(printable(text), file=sys.stderr, flush=True)


def printable(text: str) -> str:
    """The text without characters that would steer a terminal."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "?" for letter in text)


class Progress:
    """Prints what it is called with, at most once a second and never in the first."""

    def __init__(self) -> None:
        self._last = time.monotonic()

    def __call__(self, text: str) -> None:
        now = time.monotonic()
        if now - self._last >= QUIET:
            self._last = now
            tell(text)


@contextmanager
def plainly() -> Iterator[None]:
    """Turns what goes wrong into lines on standard error and an exit status."""
    from cutplan.problems import InputProblems, NoPlan

    try:
        yield
    except InputProblems as wrong:
        tell(str(wrong))
        raise typer.Exit(2) from None
    except NoPlan as none:
        tell(str(none))
        raise typer.Exit(3) from None
