"""What work at the saw takes, and what an hour of it costs."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.tomllines import ZERO, Section

SAW_KEYS = ("setup_minutes", "cut_seconds", "stick_seconds", "hourly")


@dataclass(frozen=True)
class SawRates:
    """What each piece of work at the saw takes, and the money for an hour (None: not said).

    `setup_minutes` a set-up; `cut_seconds` one cut through a lift; `stick_seconds` to fetch, lay and clear a lift.
    """

    setup_minutes: Fraction
    cut_seconds: Fraction
    stick_seconds: Fraction
    hourly: Fraction | None = None


def read_rates(saw: Section) -> SawRates | None:
    """The shop's rates; a time that is not given is nothing. None where no time is given."""
    times = {key: saw.duration(key, key.rpartition("_")[2]) for key in SAW_KEYS[:-1]}
    hourly = saw.money("hourly", ZERO) if "hourly" in saw.values else None
    if not any(key in saw.values for key in times):
        if hourly is not None:
            saw.report("hourly", "says nothing without a time; write setup_minutes, cut_seconds or stick_seconds too, "
                       "or leave this out")
        return None
    return SawRates(**times, hourly=hourly)
