"""A plan file altered by a test, with a new digest: what only the checks behind the digest can refuse."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from cutplan.plans.digest import digest


def renewed(fields: dict[str, Any]) -> str:
    """The plan's text with the digest that its own fields give."""
    text = json.dumps({key: value for key, value in fields.items() if key != "digest"}, default=float)
    return json.dumps({**json.loads(text), "digest": digest(json.loads(text, parse_float=Fraction))})
