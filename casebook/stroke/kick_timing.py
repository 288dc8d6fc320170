"""Which foot kicks down as which hand enters or catches: relative phase, with both hands named and the spread shown.

0 degrees: the event falls on the middle of the foot's downbeat; 180: on the middle of its way up. Feet kick in turn, so
a foot in anti-phase says that the other foot kicks down there; that is said with "would", for it was not read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.stroke.circular import BANDS, Directions, directions, phase_at, phase_band
from casebook.stroke.points import Unread
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.stroke.kick import Kicks

#: From one downbeat to the next is no longer than so many usual kicks, or one was missed. own judgement, no source
MISSED = 1.6
#: Rhythms count as tied together where chance would tie them this well less often than this. common practice, no source
CHANCE = 0.05
_HAPPENS = {
    "entry": "enters",
    "past_body": "starts back past the body",
    "catch": "starts its catch",
    "exit": "leaves the water",
}


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """One event of one hand against the downbeats of one foot.

    Attributes
    ----------
    foot, hand : str
        ``l`` or ``r``.
    event : str
        Key of ``marks.events.EVENTS``.
    instants : (n,) float array [s]
        Those that fall between two downbeats of the foot.
    phases, sigma : (n,) float array
        0 to 360, and the standard deviation from marks and frames. [deg]
    together : Directions
    """

    foot: str
    hand: str
    event: str
    instants: NDArray[np.float64]
    phases: NDArray[np.float64]
    sigma: NDArray[np.float64]
    together: Directions

    @property
    def tied(self) -> bool:
        """Foot and hand keep the same step more than chance would have it."""
        return bool(self.together.chance < CHANCE)

    @property
    def band(self) -> str:
        """One of ``circular.BANDS``."""
        return str(phase_band(self.together.mean))

    @property
    def kicks_down(self) -> str:
        """The foot in its downbeat at the event, ``l`` or ``r``; empty where it falls between, or nothing is tied."""
        if not self.tied or self.band == BANDS[2]:
            return ""
        return self.foot if self.band == BANDS[0] else "lr".replace(self.foot, "")

    def text(self) -> str:
        """The meeting in a coach's words, both sides named."""
        hand, foot = f"{SIDES[self.hand]} hand", f"{SIDES[self.foot]} foot"
        happens = _HAPPENS.get(self.event, f"is at {self.event.replace('_', ' ')}")
        if self.together.n < 3:
            told = ", ".join(f"{p:.0f}" for p in self.phases)
            return f"As the {hand} {happens}, the {foot} is at {told} degrees of its kick (0: middle of the downbeat)."
        if not self.tied:
            return f"The {foot} keeps no fixed step with the {hand}."
        down = self.kicks_down
        if down == self.foot:
            return f"As the {hand} {happens}, the {foot} kicks down."
        if down:
            return f"As the {hand} {happens}, the {foot} comes up, so that the {SIDES[down]} foot would kick down."
        return f"As the {hand} {happens}, the {foot} {_between(self.together.mean)}."


def _between(phase_deg: float) -> str:
    """Where a foot is that is neither in its downbeat's middle nor in that of its way up; the downbeat is -90 to 90."""
    if phase_deg < 180:
        return "is ending its downbeat" if phase_deg < 90 else "has just ended its downbeat"
    return "is starting its downbeat" if phase_deg > 270 else "is about to start its downbeat"


def meeting(kicks: Kicks, hand: str, event: str, instants: ArrayLike, sigma_s: ArrayLike = 0.0) -> Meeting | Unread:
    """One event of one hand against the downbeats of one foot.

    Parameters
    ----------
    kicks : Kicks
    hand : str
        ``l`` or ``r``.
    event : str
    instants : (n,) float array
        When it happened, by the same clock as the kicks. [s]
    sigma_s : (n,) or scalar
        Standard deviation of each instant. [s]
    """
    at = np.asarray(instants, float).ravel()
    unsure = np.broadcast_to(np.asarray(sigma_s, float), at.shape)
    phase, period, own = kick_phase(kicks, at)
    inside = np.isfinite(phase)
    if not inside.any():
        return Unread(
            f"No {event.replace('_', ' ')} of the {SIDES[hand]} hand falls between two marked downbeats of the "
            f"{SIDES[kicks.side]} foot.",
            "Mark hip, knee and ankle of the near leg through the moments in which the hand enters and catches.",
        )
    sigma = 360.0 * np.hypot(unsure, own) / period
    return Meeting(kicks.side, hand, event, at[inside], phase[inside], sigma[inside], directions(phase[inside]))


def kick_phase(
    kicks: Kicks, instants: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Phase of a foot's kick at instants (n,), the length of that kick, and the error of its downbeats.

    Returns
    -------
    phase : (n,) float array
        0 at the middle of a downbeat; NaN where the foot is not marked around the instant. [deg]
    period, sigma_s : (n,) float arrays [s]
    """
    beats = kicks.middle_s
    nothing = np.full(instants.shape, np.nan)
    if len(beats) < 2:
        return nothing, nothing, nothing
    after = np.clip(np.searchsorted(beats, instants, "right"), 1, len(beats) - 1)
    period, usual = beats[after] - beats[after - 1], np.median(np.diff(beats))
    whole = (kicks.run[after] == kicks.run[after - 1]) & (period < MISSED * usual)
    phase = np.where(whole, phase_at(instants, beats), np.nan)
    return phase, period, np.maximum(kicks.middle_sigma_s[after], kicks.middle_sigma_s[after - 1])
