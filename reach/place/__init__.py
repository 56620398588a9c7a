"""Put spots on the globe: locators, callsigns, land and countries, geodesics, the sun.

`reach.place(spots)` is `reach.place.place.place`: it adds where each receiver is, how far and in which direction.
"""

from reach.step import callable_package

callable_package(__name__, "reach.place.place:place")
