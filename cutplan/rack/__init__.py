"""The rack: offcuts that wait to be used, new sticks that are there, and which plans have been cut."""

import shlex

USUAL_RACK = "rack.db"  # the rack where nobody names another


def command(rack: str, *words: str) -> str:
    """A command of a rack to advise, as it is to be typed."""
    return shlex.join(["cutplan", *words, *([] if rack == USUAL_RACK else ["--rack", rack])])
