"""What stands at the foot of the sheets."""

from __future__ import annotations

from cutplan.sheets.words import bulleted, titled

AT_THE_SAW = (
    "Wear eye protection at the saw (in the United States: 29 CFR 1910.133).",
    'Clamp what is marked "clamp"; never hold a short piece or a short remainder by hand.',
    "Unplug the saw before you change the blade, and let the blade stop before you reach in.",
    "Square one end first. Then mark one piece, cut it, and mark the next one from the new end.",
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
