"""If these fail, the stop key in the first moments of a command is answered with a traceback of Python's own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
# Says what is looked for while Python's own handler stands, which raises KeyboardInterrupt wherever it may be.
WATCHED = f"""
import _signal, sys

class Looked:
    seen = []

    def find_spec(self, name, path=None, target=None):
        if _signal.getsignal(_signal.SIGINT) is _signal.SIG_DFL:
            sys.exit(" ".join(self.seen))
        self.seen.append(name)

sys.path.insert(0, {str(ROOT)!r})
sys.meta_path.insert(0, Looked())
"""
STARTS = {"the command": "from cutplan.__main__ import main; main()",
          "python -m": "import runpy; runpy.run_module('cutplan', run_name='__main__', alter_sys=True)"}


def looked_for(code: str) -> set[str]:
    """What a fresh Python that knows no packages but this one looks for until the handler is another, or to its end."""
    result = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, check=False)
    return set(result.stderr.split())


@pytest.mark.parametrize("start", STARTS)
def test_nothing_is_loaded_before_the_stop_key_ends_the_program_in_silence(start: str) -> None:
    """But what the handler itself takes, and runpy."""
    own = looked_for(f"{WATCHED}import signal, runpy; sys.exit(' '.join(Looked.seen))")
    assert "signal" in own
    assert looked_for(WATCHED + STARTS[start]) - own == {"cutplan", "cutplan.__main__", "__future__"}
