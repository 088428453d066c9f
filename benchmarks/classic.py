"""Classic one-length instances with known optima: how many end proven, how many with a certificate, and how fast.

    python -m benchmarks.classic --instances DIR --optima CSV --limit 60 [--class NAME] [--sample N] --out CSV

DIR holds a folder a class, of text files as benchmarks/instances.py reads them. The optima are a CSV with the columns
class, instance, optimum.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from benchmarks.instances import by_class, parser_of, run_all, sampled


def chosen(root: Path, optima: pd.DataFrame, name: str | None, sample: int | None) -> dict[Path, int]:
    """The instances to run, with their optima: those of one class, or of all; so many drawn at random."""
    known = {root / row["class"] / f"{row['instance']}.txt": int(row["optimum"]) for _, row in optima.iterrows()
             if name in (None, row["class"])}
    return {path: known[path] for path in sampled([path for path in known if path.exists()], sample)}


def table(results: pd.DataFrame, optima: pd.Series) -> str:
    """A line for each class, and one for all; none may be wrong."""
    return by_class(results, right=(results.lower == optima) & (results.upper == optima),
                    wrong=(results.lower > optima) | (results.upper < optima))


def main() -> None:
    parser = parser_of(__doc__ or "")
    parser.add_argument("--optima", type=Path, required=True)
    asked = parser.parse_args()
    if not asked.instances.is_dir() or not asked.optima.is_file():
        parser.error(f"{asked.instances} must be a folder and {asked.optima} a file that are there")
    known = chosen(asked.instances, pd.read_csv(asked.optima), asked.name, asked.sample)
    if not known:
        parser.error(f"no instance of {asked.optima} is in {asked.instances}")
    results = run_all(list(known), asked.limit)
    results.to_csv(asked.out, index=False)
    print(table(results, pd.Series(list(known.values()))))


if __name__ == "__main__":
    main()
