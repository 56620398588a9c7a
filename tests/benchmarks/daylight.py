"""What the sky's columns and the conditions cost. Run: python -m tests.benchmarks.daylight [SPOTS ...]"""

import resource
import sys
import time

import numpy as np

from reach.measure import conditions
from reach.place import daylight
from tests import factory


def main(counts: list[int]) -> None:
    for count in counts:
        rng = np.random.default_rng(1)
        spots = factory.spots(count, factory.receivers(3000, rng), rng, days=20, hours=24)
        before_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        start = time.perf_counter()
        found = daylight.daylight(spots)
        middle = time.perf_counter()
        for function in (conditions.by_solar_hour, conditions.by_darkness, conditions.by_ends, conditions.best_hours):
            function(found)
        conditions.skip(found)
        end = time.perf_counter()
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:>9} spots: sky {middle - start:.2f} s, conditions {end - middle:.2f} s, "
            f"peak {peak_mb:.0f} MB ({before_mb:.0f} MB before)"
        )


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [50_000, 2_000_000])
