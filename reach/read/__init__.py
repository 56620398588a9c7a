"""Open what operators export, find its dialect and headers, and keep every cell as text with its file and line.

`reach.read(*paths)` is `reach.read.table.read`.
"""

from reach.step import callable_package

callable_package(__name__, "reach.read.table:read")
