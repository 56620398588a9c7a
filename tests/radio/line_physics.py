"""A feedline worked out exactly, to hold the estimates against: series resistance and shunt conductance in every metre.

Source: the telegrapher's equations, as in Pozar (2011), Microwave Engineering, 2.1 and 2.7; the characteristic
impedance is complex, as it is on a real cable.
"""

import numpy as np

LIGHT_M_PER_S = 299792458.0
NEPER_DB = 20 / np.log(10)


def exact_loss_db(loss_db_per_m, frequency_mhz, length_m, load_ohm, *, velocity=0.66, in_conductors=1.0, line_ohm=50.0):
    """Power into the line over power into the load [dB].

    in_conductors : share of the loss that is series resistance; the rest is shunt conductance
    """
    omega, speed = 2e6 * np.pi * frequency_mhz, velocity * LIGHT_M_PER_S
    alpha = loss_db_per_m / NEPER_DB
    series = 2 * line_ohm * alpha * in_conductors + 1j * omega * line_ohm / speed
    shunt = 2 * alpha / line_ohm * (1 - in_conductors) + 1j * omega / (line_ohm * speed)
    gamma, impedance = np.sqrt(series * shunt), np.sqrt(series / shunt)
    voltage = load_ohm * np.cosh(gamma * length_m) + impedance * np.sinh(gamma * length_m)
    current = np.cosh(gamma * length_m) + load_ohm / impedance * np.sinh(gamma * length_m)
    return 10 * np.log10((voltage * np.conj(current)).real / np.real(load_ohm))
