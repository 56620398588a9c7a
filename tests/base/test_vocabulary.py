"""The vocabulary of a raw column."""

from __future__ import annotations

import numpy as np
import pandas as pd

from reach.base import vocabulary


def test_names_known_to_be_distinct_are_not_looked_through():
    """The column is that of pandas; its categories hold no table and no texts of their own, until somebody asks where one is."""
    names = [f"n{k}" for k in range(1000)]
    column = vocabulary.of_distinct(np.arange(1000)[::-1], pd.Index(names, dtype="str"))
    assert column.equals(pd.Categorical.from_codes(np.arange(1000)[::-1], pd.Index(names, dtype="str")))
    made = vocabulary.of_distinct(np.arange(1000), pd.Index(names, dtype="str"))
    assert "_engine" not in made.categories._cache
    assert made.categories.get_loc("n7") == 7 and made.categories.is_unique
