"""What stands at the foot of the sheets."""

from __future__ import annotations

from cutplan.sheets.words import bulleted, titled

ONE_ZERO = (
    "Square one end, if it is not sawn already: that is 0. Hook the tape on it, mark the first piece at its own "
    "length, cut with the blade on the waste side of the mark; hook the tape on the new end for the next piece. "
    "Running marks count from 0, kerfs included: they are to check by, not to cut by."
)
AT_THE_SAW = (
    "Wear eye protection at the saw and hearing protection, and no gloves near the turning blade.",
    "Support long stock on both sides of the saw, level with its table.",
    "At every cut hold the longer part and let the shorter fall free. Clamp what is marked \"clamp\"; never hold a "
    "short piece by hand.",
    "What is marked \"let it fall\" is too short to be held: hold or clamp the other part, keep your hands off this "
    "one, and wait for the blade to stop before you reach for it.",
    "What is marked \"hand saw\" leaves neither part long enough to hold or to clamp: cut it from a longer stick, or "
    "with a hand saw in a vice.",
    "Never trap a piece between a stop and the blade: a stop belongs against the part that is held, none against the "
    "part that falls.",
    "Unplug the saw before you change the blade, and let the blade stop before you reach in.",
    "Square one end first: that is 0. Mark one piece at its own length, cut it, and mark the next one from the new "
    "end; never mark them all first.",
    "Measure the first piece of each length before you cut the rest.",
)
AT_THE_SITE = (
    "Measure the opening again before you cut: at the top, in the middle and at the bottom.",
    "Reminders of codes are prompts to look them up, and no verdict on what is built. Editions differ, and "
    "local amendments differ from all of them.",
    "Local codes, the authority that enforces them and licensed practice decide what may be built.",
)


def at_the_saw() -> str:
    return f"{titled('At the saw')}\n{bulleted(AT_THE_SAW)}"


def at_the_site() -> str:
    return f"{titled('Before you build')}\n{bulleted(AT_THE_SITE)}"
