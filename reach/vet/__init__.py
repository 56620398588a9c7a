"""Rules for one row, then suspects found by comparing rows with the world and with each other.

`reach.vet(raw)` is `reach.vet.rules.vet`.
"""

from reach.step import callable_package

callable_package(__name__, "reach.vet.rules:vet")
