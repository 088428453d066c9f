"""What every test process does once, so that what it starts need not do it again and again."""

from __future__ import annotations

import gc

import ortools.math_opt.python.mathopt
import ortools.sat.python.cp_model  # noqa: F401  the processes that cut a plan are forked off, and would each load them

from cutplan.__main__ import RARELY

gc.set_threshold(*RARELY)  # as the command does
