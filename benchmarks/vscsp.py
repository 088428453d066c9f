"""Instances of several stock lengths, with prices and limited numbers: how many end proven, how fast, with what gaps.

    python -m benchmarks.vscsp --instances DIR --limit 60 [--class NAME] [--sample N] --out CSV

DIR holds a folder a class, of text files as benchmarks/instances.py reads them. No optima are known: a proven bound is
the reference. --sample draws so many of each class.
"""

from __future__ import annotations

from benchmarks.instances import by_class, parser_of, run_all, sampled


def main() -> None:
    parser = parser_of(__doc__ or "")
    asked = parser.parse_args()
    folders = [asked.instances / asked.name] if asked.name else sorted(asked.instances.iterdir())
    paths = [path for folder in folders for path in sampled(sorted(folder.glob("*.txt")), asked.sample)]
    if not paths:
        parser.error(f"no instance is in {asked.instances}; a folder with a folder of text files a class is needed")
    results = run_all(paths, asked.limit)
    results.to_csv(asked.out, index=False)
    gaps = 100 * (results.upper - results.lower) / results.upper
    print(by_class(results))
    print(f"widest gap {gaps.max():.3f} %")


if __name__ == "__main__":
    main()
