"""Run the benchmarks and print a row for each as it is there."""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys

from benchmarks import names, run


def main() -> int:
    """Print the rows; 2 for an unknown name, 0 otherwise, whether the bars hold or not."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description="Run the benchmarks of Ringwright.")
    parser.add_argument("name", nargs="*", help="rows to measure; all where none is named")
    parser.add_argument("--json", action="store_true", help="print one JSON array, and nothing else")
    parser.add_argument("--list", action="store_true", help="print the names of all rows")
    given = parser.parse_args()
    if given.list:
        print("\n".join(names()))
        return 0
    if unknown := [name for name in given.name if name not in names()]:
        sys.stderr.write(f"no benchmark is called {', '.join(unknown)}; known: {', '.join(names())}\n")
        return 2
    rows = []
    for row in run(given.name):
        rows.append(dataclasses.asdict(row))
        if not given.json:
            verdict = {True: "holds", False: "DOES NOT HOLD", None: "no bar"}[row.holds]
            bar = "" if row.bar is None else f" (bar {row.bar:g})"
            print(f"{row.name:24} {row.value:10.4g} {row.unit}{bar}  {verdict}\n    {row.how}", flush=True)
    if given.json:
        print(json.dumps(rows, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
