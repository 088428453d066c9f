"""Files written whole or not at all."""

from __future__ import annotations

import os
import re
import secrets
import stat
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from cutplan.problems import InputProblems, Problem

PART = re.compile(r"\.cutplan-[0-9a-f]{12}\.part")  # a file until it is whole, and takes its name
STALE = 24 * 3600  # seconds: nothing is written for so long
COMPANIONS = ("-journal", "-wal", "-shm")  # what SQLite writes beside a database, and reads after a crash


def not_writable(target: str) -> list[Problem]:
    """What keeps a file from being written, found by trying."""
    place = Path(os.path.realpath(target))
    try:
        if place.is_symlink():  # every link was followed, and this one leads back to itself
            return [refused(target, "is a link that leads round in a circle; give the name of a file")]
        if place.is_dir():
            return [refused(target, "is a folder; give the name of a file")]
        if place.exists() and not stat.S_ISREG(place.stat().st_mode):
            return [refused(target, "is not an ordinary file; give a file, or - for standard output")]
        if place.exists() and not os.access(place, os.W_OK):
            return [refused(target, "may not be written to; give another name")]
        prepared(place, "").unlink()
    except (OSError, ValueError) as error:
        return [refused(target, reason(error))]
    return []


def write_whole(texts: Mapping[str, str | bytes]) -> None:
    """Writes each to its file, a text in UTF-8; all are on the disk before any of them takes its place.

    InputProblems where a file cannot be written; what stood under its name is then still there.
    """
    waiting: dict[str, Path] = {}
    target = ""
    try:
        for target, text in texts.items():
            waiting[target] = prepared(Path(os.path.realpath(target)), text)
        for target in texts:
            place = Path(os.path.realpath(target))
            os.replace(waiting[target], place)
            del waiting[target]
    except OSError as error:
        raise InputProblems([refused(target, reason(error))]) from None
    finally:
        for leftover in waiting.values():
            leftover.unlink(missing_ok=True)


def replace_whole(target: str | Path, data: bytes) -> None:
    """Puts a file in the place of another, wholly or not at all. OSError as it comes."""
    place = Path(os.path.realpath(target))
    os.replace(prepared(place, data), place)


def write_new(target: str, data: bytes) -> None:
    """Writes a file that is not there yet, wholly or not at all. FileExistsError where it is, OSError as it comes."""
    waiting = prepared(Path(target), data)
    try:
        os.link(waiting, target)  # unlike a replacement, it fails where somebody has the name
    finally:
        waiting.unlink()


def not_fillable(folder: str) -> list[Problem]:
    """What keeps a folder from being filled: it must be empty, or not be there yet."""
    place = Path(os.path.realpath(folder))
    try:
        if place.is_dir():
            if any(place.iterdir()):
                return [refused(folder, "is a folder with something in it that might be lost; give a new one")]
            prepared(place / "file", "").unlink()
        elif os.path.lexists(place):
            return [refused(folder, "is no folder; give the name of a new one")]
        else:
            prepared(place, "").unlink()
    except (OSError, ValueError) as error:
        return [refused(folder, reason(error))]
    return []


def write_in_new(folder: str, texts: Mapping[str, str | bytes]) -> None:
    """Writes each text to a file of its name in a folder, which is made where it is not there; InputProblems as in
    `write_whole`."""
    try:
        os.makedirs(folder, exist_ok=True)
    except OSError as error:
        raise InputProblems([refused(folder, reason(error))]) from None
    write_whole({os.path.join(folder, name): text for name, text in texts.items()})


def prepared(place: Path, text: str | bytes) -> Path:
    """The text in a new file beside `place`, safely on the disk, with the rights of the file it replaces."""
    remove_stale(place.parent)
    beside = place.parent / f".cutplan-{secrets.token_hex(6)}.part"
    try:
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as file:
            file.write(text.encode() if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        if place.exists():
            os.chmod(beside, stat.S_IMODE(place.stat().st_mode))
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


def remove_stale(folder: Path) -> None:
    """Removes what a cutplan that was killed a day ago or more, and so is not at work any more, left half written."""
    for left in folder.glob(".cutplan-*.part"):
        with suppress(OSError):  # another's, or another is removing it
            if PART.fullmatch(left.name) and time.time() - left.lstat().st_mtime > STALE:
                left.unlink()


def refused(target: str, message: str) -> Problem:
    return Problem(target, 1, "file", message)


def reason(error: Exception) -> str:
    what = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return f"cannot be written ({what}); give a file in a folder that can be written to"
