"""The joins of a display-cable reel as CSV with polars: grouped by unit, and counted against a sound cable's."""

import sys

import polars as pl

CROSSED = {1: 12, 2: 11, 3: 10, 4: 9, 5: 8, 6: 7, 7: 6, 8: 5, 9: 4, 10: 3, 11: 2, 12: 1}
sound = pl.DataFrame(
    {"a": [f"A.{pin}" for pin in range(1, 20)], "b": [f"B.{CROSSED.get(pin, pin)}" for pin in range(1, 20)]}
)
joins = pl.read_csv(sys.argv[1])
right = joins.join(sound, on=["a", "b"], how="inner")
counts = right.group_by("unit").len()
print(f"{joins['unit'].n_unique()} units, {counts.filter(pl.col('len') < 19).height} differ")
