"""The commands as the tests call them."""

from __future__ import annotations

import functools
import re

import typer.main
import typer.testing
from typer.testing import CliRunner, Result

from cutplan import cli

typer.testing._get_command = functools.cache(typer.main.get_command)  # built once: they take longer than most answers


RECORD = re.compile(r"\b[A-Z]\w*\((?:\w+=|\d)|<\w[\w.]* object at")  # as Python writes it; nothing of it is for people


def run(*words: object) -> Result:
    return CliRunner().invoke(cli.app, [str(word) for word in words], catch_exceptions=False)


def good(*words: object) -> str:
    """What a command that goes well prints."""
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout
