"""Whether a rack and the plans made with it are in step; and an earlier copy of it put back."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from cutplan.database import copies, put_back, soundness
from cutplan.problems import InputProblems, Problem
from cutplan.rack import register, replacing, shelf
from cutplan.rack.claims import Known, claim, done
from cutplan.rack.contents import sealed
from cutplan.rack.store import Rack, form, readable, reading
from cutplan.rack.tags import tag_of


@dataclass(frozen=True)
class Sound:
    """What is on a sound rack; `notes` is what is to be said of it and of plans."""

    offcuts: int
    counts: int
    plans: int
    changes: int
    notes: tuple[str, ...]


def check(path: str, plans: Sequence[Known], unsound: Sequence[Problem] = ()) -> Sound:
    """Goes through a rack and the plans given. InputProblems for all that is damaged or out of step, and of other plans
    that are `unsound`; how to mend it."""
    try:
        with reading(path) as rack:
            problems = [*unsound, *(problem for what in plans for problem in out_of_step(rack, what))]
            notes = [note for what in plans for note in register.older_copy(rack, what)]
            found = Sound(len(shelf.offcuts(rack)), len(shelf.counts(rack)), len(register.plans(rack)), rack.changes,
                          tuple(notes))
    except InputProblems as wrong:
        raise InputProblems([*unsound, *wrong.problems, *mending(path)]) from None
    if problems:
        raise InputProblems(problems)
    return found


def mending(path: str) -> list[Problem]:
    """Which sound copies of a rack there are to go on with."""
    kept = [copy for copy in copies(path) if is_sound(copy)]
    right = (f"put an earlier copy back with cutplan rack restore {kept[0]}"
             + (f" (or {', '.join(kept[1:4])})" if kept[1:] else "") if kept
             else "put a copy of your own back with cutplan rack restore COPY")
    return [Problem(path, 1, "file", f"to mend it: {right}; it says what that copy does not know")]


def is_sound(copy: str) -> bool:
    try:
        soundness(data_of(copy), copy, form()).close()
    except InputProblems:
        return False
    return True


def out_of_step(rack: Rack, what: Known) -> list[Problem]:
    """Why a plan cannot go on with a rack: all of it."""
    try:
        with register.noticing(rack, what):
            replacing.refuse_replaced(rack, what)
            if not (gone := done(rack, what.id).gone):
                replacing.refuse_outrun(rack, what)
            if gone - what.numbers:
                return [Problem(what.file, 1, "plan", "has fewer sticks than the rack has booked of it")]
            claim(rack, what, what.numbers - gone)
    except InputProblems as wrong:
        return list(wrong.problems)
    return []


@dataclass(frozen=True)
class Restored:
    """A copy that was put back: how many changes it knows, how many the rack had seen (None: it could not be read),
    and the file in which what was there is kept ("": nothing was); `given`: tags were given out since, and are not
    given again."""

    changes: int
    before: int | None
    kept: str
    given: bool


def restore(path: str, copy: str) -> Restored:
    """Puts an earlier copy of a rack in its place; what was there is kept beside it. InputProblems where the copy is
    damaged itself, or is no rack."""
    whole = data_of(copy)
    before, next_tag = last_known(path)
    with closing(soundness(whole, copy, form())) as db:
        changes, next_there = db.execute("SELECT changes, next_tag FROM rack").fetchone()
        if given := next_tag > next_there:
            whole = with_next_tag(db, next_tag)
    return Restored(changes, before, put_back(path, whole, form()), given)


def last_known(path: str) -> tuple[int | None, int]:
    """How often the rack that is there was changed (None: it cannot be read), and the number of its next tag (0: that
    cannot be read either)."""
    with suppress(InputProblems), reading(path) as rack:
        return rack.changes, int(rack.all("SELECT next_tag FROM rack")[0]["next_tag"])
    with suppress(InputProblems), readable(path) as rack:
        for row in rack.all("SELECT next_tag, last_tag FROM rack"):
            if row["next_tag"] and row["last_tag"] == tag_of(row["next_tag"] - 1):  # the one bears the other out
                return None, int(row["next_tag"])
    return None, 0


def with_next_tag(db: sqlite3.Connection, number: int) -> bytes:
    """A sound rack, in the newest form, whose next tag is that of a number."""
    db.execute("UPDATE rack SET next_tag = ?, last_tag = ?", (number, tag_of(number - 1)))
    db.execute("UPDATE rack SET seal = ?", (sealed(db),))
    db.execute(f"PRAGMA user_version = {len(form().steps)}")
    return db.serialize()


def data_of(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        fault = f"cannot be read ({reason}); give the path of a rack's copy"
        raise InputProblems([Problem(path, 1, "file", fault)]) from None
