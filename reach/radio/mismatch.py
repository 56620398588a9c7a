"""What a mismatch does: SWR, reflection, return loss, mismatch loss, and what a lossy line makes of them.

Formulas: Pozar D. (2011), Microwave Engineering, 4th ed., 2.3 and 2.7; |G| is the magnitude of the reflection.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from reach.errors import LineError

Floats = npt.NDArray[np.float64]

LINE_OHM: Final = 50.0


def swr_of_impedance(
    resistance_ohm: npt.ArrayLike, reactance_ohm: npt.ArrayLike, *, line_ohm: float = LINE_OHM
) -> Floats:
    """SWR of an antenna's impedance on a line.

    resistance_ohm, reactance_ohm : R and X, broadcast to shape (...), R > 0 [ohm]
    line_ohm : the line's impedance, taken as real
    Returns swr, shape (...), >= 1. LineError where R is not above 0 or either is no finite number.
    R = 50, X = 1 gives 1.02, which a meter shows as 1.0.
    """
    resistance = _checked(resistance_ohm, lambda r: r > 0, "a resistance is a number of ohms above 0, such as 50")
    reactance = _checked(reactance_ohm, np.isfinite, "a reactance is a number of ohms, such as -12")
    z = resistance + 1j * reactance
    return _swr(np.abs((z - line_ohm) / (z + line_ohm)))


def swr_of_watts(forward_w: npt.ArrayLike, reflected_w: npt.ArrayLike) -> Floats:
    """SWR where a wattmeter stands, from what goes forward and what comes back.

    forward_w, reflected_w : broadcast to shape (...), 0 <= reflected < forward [W]
    Returns swr, shape (...). LineError otherwise.
    """
    forward = _checked(forward_w, lambda w: w > 0, "forward power is a number of watts above 0, such as 5")
    reflected = _checked(reflected_w, lambda w: w >= 0, "reflected power is a number of watts from 0 up, such as 0.2")
    forward, reflected = np.broadcast_arrays(forward, reflected)
    over = reflected >= forward
    if over.any():
        raise LineError(
            f"{reflected[over].flat[0]:g} W reflected of {forward[over].flat[0]:g} W forward cannot be: "
            "less must come back than goes forward"
        )
    return _swr(np.sqrt(reflected / forward))


def reflection(swr: npt.ArrayLike) -> Floats:
    """Magnitude of the reflection, (swr - 1) / (swr + 1).

    swr : shape (...), >= 1
    Returns |G|, same shape, 0 <= |G| < 1. LineError where swr is below 1 or not finite.
    """
    checked = check_swr(swr)
    return np.asarray((checked - 1) / (checked + 1))


def reflected_share(swr: npt.ArrayLike) -> Floats:
    """Share of the power that comes back from a mismatch, |G|^2, 0..1; shape and errors as `reflection`."""
    return reflection(swr) ** 2


def return_loss_db(swr: npt.ArrayLike) -> Floats:
    """How far the reflected wave lies below the forward one, -20 log10 |G| [dB].

    swr : shape (...), >= 1
    Returns dB, same shape, above 0; infinite at SWR 1, where nothing comes back.
    """
    with np.errstate(divide="ignore"):
        return -20 * np.log10(reflection(swr))


def mismatch_loss_db(swr: npt.ArrayLike) -> Floats:
    """Power that a mismatch turns away once, -10 log10(1 - |G|^2) [dB].

    swr : shape (...), >= 1
    Returns dB, same shape, >= 0. With a tuner most of it is sent forward again; what the line then costs extra is
    `feedline.extra_loss_db`. So it is shown, and not added to the losses.
    """
    return -10 * np.log1p(-reflected_share(swr)) / np.log(10)


def swr_at_radio(swr_at_antenna: npt.ArrayLike, matched_loss_db: npt.ArrayLike) -> Floats:
    """SWR that a meter at the radio shows; a lossy line flatters.

    swr_at_antenna : shape (...), >= 1
    matched_loss_db : the line's loss when matched, >= 0 [dB]
    Returns swr, 1 <= swr <= swr_at_antenna: |G| shrinks by the loss of the way there and back.
    """
    loss_db = check_loss_db(matched_loss_db)
    return _swr(reflection(swr_at_antenna) * 10 ** (-loss_db / 10))


def swr_at_antenna(swr_at_radio: npt.ArrayLike, matched_loss_db: npt.ArrayLike) -> Floats:
    """SWR at the antenna behind a reading taken at the radio: the inverse of `swr_at_radio`.

    LineError where the line is so lossy that not even an antenna that returns everything could show that reading.
    """
    loss_db = check_loss_db(matched_loss_db)
    shown = check_swr(swr_at_radio)
    magnitude = reflection(shown) * 10 ** (loss_db / 10)
    if (magnitude >= 1).any():
        at = np.unravel_index(np.argmax(magnitude), magnitude.shape)
        loss = float(np.broadcast_to(loss_db, magnitude.shape)[at])
        most = float(_swr(np.asarray(10 ** (-loss / 10))))
        raise LineError(
            f"SWR {float(np.broadcast_to(shown, magnitude.shape)[at]):g} at the radio cannot be: behind {loss:.2g} dB "
            f"of line not even an open end shows more than {most:.3g}; look at the length and the class of cable"
        )
    return _swr(magnitude)


def check_swr(swr: npt.ArrayLike) -> Floats:
    """The SWR as an array. LineError where one is below 1 or not finite."""
    return _checked(swr, lambda s: s >= 1, "an SWR is a number from 1 up, such as 1.5")


def check_loss_db(loss_db: npt.ArrayLike) -> Floats:
    """A loss as an array. LineError where one is below 0 or not finite."""
    return _checked(loss_db, lambda db: db >= 0, "a loss is a number of dB from 0 up, such as 0.8")


def _swr(magnitude: Floats) -> Floats:
    return np.asarray((1 + magnitude) / (1 - magnitude))


def _checked(values: npt.ArrayLike, fits, wanted: str) -> Floats:  # type: ignore[no-untyped-def]
    """Finite values that fit; LineError names the first that does not, and what was wanted."""
    array = np.asarray(values, dtype=float)
    with np.errstate(invalid="ignore"):
        bad = ~(np.isfinite(array) & fits(array))
    if bad.any():
        raise LineError(f"{array[bad].flat[0]:g} cannot be: {wanted}")
    return array
