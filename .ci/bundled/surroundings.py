"""What a program of the folder hands on to those that it starts."""

from collections.abc import MutableMapping


def put_back(told: MutableMapping[str, str]) -> None:
    """The environment as it was before a program of the folder began: a browser or a film encoder finds the system's libraries.

    told : the environment; its own search for libraries the program has behind it
    """
    told.pop("LD_LIBRARY_PATH", None)
    if before := told.pop("LD_LIBRARY_PATH_ORIG", None):
        told["LD_LIBRARY_PATH"] = before
