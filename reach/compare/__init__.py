"""Compare two setups: paired in time, honest about chance, refusing where the design cannot tell.

`reach.compare(spots, a, b)` is `reach.compare.comparison.compare`. METHOD.md beside this file has the method in plain
words, the evidence and the limits.
"""

from reach.step import callable_package

callable_package(__name__, "reach.compare.comparison:compare")
