"""The frequency of a motion that repeats, from any number of series that share it.

First a scan: how much of the series' variance a constant, a slope, a bend and a few harmonics explain, for each
frequency. Then the phase of each period against the mean one, and a straight line through the phases: its slope is what
is missing to the true frequency, its scatter tells the error.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]
    Complex: TypeAlias = NDArray[np.complex128]

#: Harmonics that describe a period.
HARMONICS = 4
#: A motion must repeat this often to be called periodic. own judgement, no source
LEAST_PERIODS = 2.5
#: Long series are scanned in parts of this length, so that a wandering rate does not blur the scan. [s]
PART_S = 12.0
#: So many parts are looked at, spread evenly.
MOST_PARTS = 6
#: Frequencies of the scan lie this share of one over the part's length apart.
FINENESS = 0.2
#: Windows of one period are moved by this share of it.
HOP = 0.25
#: The first periods that the following ones are held against, to begin with.
FIRST_PERIODS = 3
#: Phases of a turn that are tried.
TURN = 64
#: Principal series kept.
KEPT = 16


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """Explained share of the variance: ``shares`` (F, H) by harmonic at frequencies ``hz`` (F,)."""

    hz: Array
    shares: Array

    @property
    def total(self) -> Array:
        """(F,) share that all harmonics explain."""
        return self.shares.sum(1)

    def peak_near(self, hz: float) -> float:
        """The frequency of the highest total within one resolution of a frequency. [Hz]"""
        step = float(self.hz[1] - self.hz[0])
        near = np.abs(self.hz - hz) <= step / FINENESS / 2
        return float(self.hz[near][np.argmax(self.total[near])]) if near.any() else hz


def odd_share(shares: Array) -> float:
    """Share of what a frequency's harmonics (H,) explain that its odd multiples do, which its double cannot."""
    return float(shares[::2].sum() / max(shares.sum(), 1e-12))


@dataclass(frozen=True, slots=True)
class Frequency:
    """A refined frequency, its standard deviation and the degrees of freedom behind that. [Hz]

    ``alike`` is how like each period is to the mean of the others, 1 for the same and about 0 for chance.
    """

    hz: float
    sigma_hz: float
    freedom: float
    alike: float


def principal(values: Array) -> Array:
    """The few series (T, C) that hold most of the variance of many (T, B), bend taken out."""
    x = values - values.mean(0)
    u = np.linspace(-1, 1, len(x))
    q = np.linalg.qr(np.stack([np.ones_like(u), u, u * u], 1))[0]
    x = x - q @ (q.T @ x)
    if x.shape[1] <= KEPT:
        return x
    _, axes = np.linalg.eigh(x.T @ x)
    return np.asarray(x @ axes[:, -KEPT:])


def scan(step: float, series: Array, low_hz: float, high_hz: float) -> Scan:
    """Explained share for each frequency, from evenly spaced series (T, C); ``step`` is their spacing. [s]"""
    n = min(len(series), max(2, round(PART_S / step)))
    begins = np.unique(np.linspace(0, len(series) - n, min(MOST_PARTS, len(series) // n)).round().astype(int))
    joined = np.concatenate([series[k : k + n] for k in begins], 1)
    t = step * (np.arange(n, dtype=float) - (n - 1) / 2)
    hz = np.arange(max(low_hz, LEAST_PERIODS / (n * step)), high_hz, FINENESS / (n * step))
    shares = np.zeros((len(hz), HARMONICS))
    u = 2 * t / (n * step)
    bend = np.linalg.qr(np.stack([np.ones_like(u), u, u * u], 1))[0]
    left = joined - bend @ (bend.T @ joined)
    total = max(float((left**2).sum()), 1e-300)
    for k, f in enumerate(hz):
        q = np.linalg.qr(np.concatenate([bend, _waves(t, f)], 1))[0][:, 3:]
        shares[k] = ((q.T @ left) ** 2).sum(1).reshape(HARMONICS, 2).sum(1) / total
    return Scan(hz, shares)


def _waves(t: Array, hz: float) -> Array:
    """(T, 2 H) cosine and sine of each harmonic."""
    angle = 2 * np.pi * hz * t[:, None] * np.arange(1, HARMONICS + 1)
    return np.stack([np.cos(angle), np.sin(angle)], -1).reshape(len(t), -1)


def refined(step: float, series: Array, hz: float) -> Frequency:
    """The frequency near ``hz`` of evenly spaced series (T, C), by the phases of their periods; NaN if it runs away."""
    about = hz
    for _ in range(3):
        at, phase, waves = _phases(step, series, hz)
        slope, offset = np.polyfit(at, phase, 1)
        hz += slope / (2 * np.pi)
        if not about / 2 < hz < 2 * about or len(series) * step * hz < 2:
            return Frequency(*(float("nan"),) * 4)
    rest = phase - slope * at - offset
    periods = len(series) * step * hz
    freedom = periods - 2
    if freedom <= 0:
        return Frequency(float(hz), float("nan"), float(freedom), float("nan"))
    # Overlapping windows say no more than as many as fit side by side.
    spread = float((rest**2).mean()) * periods / freedom
    reach = float(((at - at.mean()) ** 2).mean()) * periods
    alike = _alike(waves[:: round(1 / HOP)])
    return Frequency(float(hz), float(np.sqrt(spread / reach) / (2 * np.pi)), float(freedom), alike)


def _alike(waves: Complex) -> float:
    """How like each of some periods (J, H, C) is to the mean of the others."""
    others = (waves.sum(0) - waves) / max(len(waves) - 1, 1)
    size = float(np.sqrt((np.abs(waves) ** 2).sum() * (np.abs(others) ** 2).sum()))
    return float((waves * others.conj()).real.sum()) / max(size, 1e-300)


def _phases(step: float, series: Array, hz: float) -> tuple[Array, Array, Complex]:
    """Middles (J,) of windows of one period [s], their phases (J,) against the mean period [rad], and their harmonics
    (J, H, C) turned to one phase."""
    n = max(2 * HARMONICS + 3, round(1 / hz / step))
    first = np.arange(0, max(1, len(series) - n + 1), max(1, round(HOP * n)))
    t = step * (np.arange(n, dtype=float) - (n - 1) / 2)
    u = 2 * t / (n * step)
    pinv = np.linalg.pinv(np.concatenate([np.stack([np.ones_like(u), u], 1), _waves(t, hz)], 1))[2:]
    windows = series[first[:, None] + np.arange(n)]
    waves = np.einsum("kn,jnc->jkc", pinv, windows)
    found = waves[:, ::2] - 1j * waves[:, 1::2]
    at = np.asarray(step * (first + (n - 1) / 2), float)
    harmonic = np.arange(1, HARMONICS + 1)[:, None]
    # Turned to one origin of time; what phase is left belongs to the swimmer.
    found = found * np.exp(-2j * np.pi * hz * at[:, None, None] * harmonic)
    phase = np.zeros(len(at))
    few = min(len(at), round(FIRST_PERIODS / HOP))
    mean = found[:few].mean(0)
    for _ in range(2):
        phase = _followed((found * mean.conj()).sum(-1), phase[0])
        turned = found * np.exp(-1j * harmonic * phase[:, None, None])
        mean = turned.mean(0)
    return at, phase, turned


def _followed(match: Complex, first: float) -> Array:
    """Phases (J,) that turn the mean period onto each window's, each near the one before. ``match`` (J, H)."""
    h = np.arange(1, match.shape[1] + 1)
    # All phases of a turn at once; what follows only picks among them.
    tries = np.linspace(-np.pi, np.pi, TURN + 1)[:-1]
    score = (match @ np.exp(-1j * h[:, None] * tries)).real
    quarter = TURN // 4
    # Round the turn and half of it more, so that what is near a place lies in one piece.
    round_about = np.concatenate([score[:, -quarter:], score, score[:, : quarter + 1]], 1)
    place = round((first + np.pi) / (2 * np.pi) * TURN)
    places = []
    for row in round_about:
        start = place % TURN
        place += int(row[start : start + 2 * quarter + 1].argmax()) - quarter
        places.append(place)
    out = np.array(places) / TURN * 2 * np.pi - np.pi
    for _ in range(4):
        turned = match * np.exp(-1j * out[:, None] * h)
        bend = (h**2 * turned.real).sum(1)
        step = np.where(bend > 0, (h * turned.imag).sum(1) / np.where(bend > 0, bend, 1.0), 0.0)
        out += np.clip(step, -2 * np.pi / TURN, 2 * np.pi / TURN)
    return out
