"""Light at a flat window under water: the index of water, Snell's law, the critical angle, and how much is enlarged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Water of a pool is usually this warm. [deg C] common practice, no source
POOL_C = 27.0
#: Yellow light, at which indices are tabled. [um]
YELLOW_UM = 0.589
#: Index of window glass, and of acrylic, at the same light. handbook values, from memory
GLASS_INDEX, ACRYLIC_INDEX = 1.52, 1.49
#: Coefficients of the international formulation of the index of water (IAPWS R9-97, 1997): a0 to a7, and the two
#: resonances in units of ``YELLOW_UM``.
_A = (0.244257733, 9.74634476e-3, -3.73234996e-3, 2.68678472e-4, 1.58920570e-3, 2.45934259e-3, 0.900704920,
      -1.66626219e-2)  # fmt: skip
_ULTRAVIOLET, _INFRARED = 0.2292020, 5.432937
#: Density of water at atmospheric pressure (Tanaka et al. 2001, Metrologia 38:301-309, coefficients from memory).
_DENSITY = (-3.983035, 301.797, 522528.9, 69.34881, 999.974950)


def water_density(celsius: ArrayLike) -> NDArray[np.float64]:
    """Density of pure water at atmospheric pressure, 0 to 40 deg C. [kg/m^3]"""
    a1, a2, a3, a4, a5 = _DENSITY
    t = np.asarray(celsius, float)
    return a5 * (1 - (t + a1) ** 2 * (t + a2) / (a3 * (t + a4)))


def refractive_index(density: ArrayLike, kelvin: ArrayLike, wavelength_um: ArrayLike) -> NDArray[np.float64]:
    """Index of water against vacuum by the international formulation (IAPWS R9-97).

    Parameters
    ----------
    density, kelvin, wavelength_um : float arrays that broadcast
        [kg/m^3], [K], [um]; valid for 0.2 to 1.1 um.
    """
    d, t = np.asarray(density, float) / 1000.0, np.asarray(kelvin, float) / 273.15
    w2 = (np.asarray(wavelength_um, float) / YELLOW_UM) ** 2
    a0, a1, a2, a3, a4, a5, a6, a7 = _A
    right = (
        a0 + a1 * d + a2 * t + a3 * w2 * t + a4 / w2
        + a5 / (w2 - _ULTRAVIOLET**2) + a6 / (w2 - _INFRARED**2) + a7 * d**2
    )  # fmt: skip
    return np.sqrt((1 + 2 * right * d) / (1 - right * d))


def water_index(celsius: ArrayLike = POOL_C, wavelength_um: ArrayLike = YELLOW_UM) -> NDArray[np.float64]:
    """Index of pool water; salt and chlorine of a pool change it by less than 0.001 (own judgement, no source).

    >>> round(float(water_index()), 4)
    1.3326
    """
    return refractive_index(water_density(celsius), np.asarray(celsius, float) + 273.15, wavelength_um)


def refracted_deg(angle_deg: ArrayLike, index_from: ArrayLike, index_to: ArrayLike) -> NDArray[np.float64]:
    """Angle to the normal after a flat boundary, by Snell's law; NaN where all light is reflected. [deg]

    >>> round(float(refracted_deg(30.0, 1.0, 1.333)), 2)
    22.03
    """
    sine = np.asarray(index_from, float) / np.asarray(index_to, float) * np.sin(np.radians(angle_deg))
    with np.errstate(invalid="ignore"):
        return np.degrees(np.arcsin(sine))


def critical_angle_deg(index: ArrayLike) -> NDArray[np.float64]:
    """From this angle to the normal on, light in water no longer leaves it: the surface is a mirror. [deg]"""
    return np.degrees(np.arcsin(1 / np.asarray(index, float)))


def window_magnification(distance_m: ArrayLike, behind_m: ArrayLike, index: ArrayLike) -> NDArray[np.float64]:
    """How much larger something small straight before a thin flat window is drawn than without the water.

    Parameters
    ----------
    distance_m : float array
        Of the object from the window. [m]
    behind_m : float array
        Of the lens behind the window. [m]
    index : float array
        Of water.

    Returns
    -------
    float array
        At most ``index``, for a lens at the window.
    """
    far, near = np.asarray(distance_m, float), np.asarray(behind_m, float)
    return (far + near) / (far / np.asarray(index, float) + near)


def checked_index(index: float) -> float:
    """An index that water can have; raises CasebookError otherwise."""
    if not 1.0 < index < 1.5:
        raise CasebookError(f"Water has no refractive index of {index}.", "It is about 1.333; sea water 1.34.")
    return index
