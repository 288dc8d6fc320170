"""Strokes of many demo swimmers, marked with noise again and again, held against what their poses say.

A swimmer's truth is worked out once; every further reading of it has noise of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from filmed_swimmer import EVERYTHING, Film

from casebook.demo.truth_marks import marks_from_truth
from casebook.stroke.coordination import coordination
from casebook.stroke.phases import PHASES, phases
from casebook.stroke.speed import hip_path, swings
from casebook.stroke.strokes import strokes_of

Z95 = 1.959964


@dataclass
class Errors:
    """Quantity -> found minus true, and both parts of the standard deviation, of every stroke."""

    rows: dict

    def covered(self, quantity):
        """Share of strokes whose 95 % interval holds the truth."""
        error, own, shared = np.array(self.rows[quantity]).T
        return float(np.mean(np.abs(error) < Z95 * np.hypot(own, shared)))

    def half(self, quantity):
        """Mean half width of the intervals."""
        _, own, shared = np.array(self.rows[quantity]).T
        return float(Z95 * np.hypot(own, shared).mean())

    def line(self, quantity):
        error = np.array(self.rows[quantity])[:, 0]
        return (
            f"{quantity:26s} {len(error):5d} strokes, covered {100 * self.covered(quantity):5.1f} %, half width "
            f"{self.half(quantity):5.1f}, bias {error.mean():+5.1f}, 90 % of errors under "
            f"{np.quantile(np.abs(error), 0.9):4.1f}"
        )


def simulated(films, seeds):
    """Errors of phases, index of coordination and swing of the hip over some films, each marked once a seed."""
    found = Errors({})
    for film in films:
        truth, _, shot, plane = film.make()
        true = {s: film.true_times(s) for s in "lr"}
        hip = truth.world[:, truth.index(f"hip_{film.side}"), 0]
        for seed in seeds:
            marks = marks_from_truth(truth, sigma_px=film.sigma_px, seed=seed, marked=EVERYTHING)
            if film.unrolled:
                gone = plane.sign * film.swimmer.speed / plane.m_per_px * truth.times
                marks = replace(marks, xy=marks.xy + gone[:, None, None] * np.array([1.0, 0.0]))
            strokes = {s: strokes_of(shot, marks, plane, s) for s in "lr"}
            starts = ("past_body", "catch") if film.unrolled else ("past_body",)
            for start in starts:
                for side in "lr":
                    _phases(found, strokes[side], true[side], start)
                _index(found, strokes, true, film.swimmer.period_s, start)
            if film.unrolled:
                path = hip_path(shot, marks, plane, film.side)
                for swing in swings(path, strokes[film.side]):
                    stroke = next(s for s in strokes[film.side] if s.number == swing.number)
                    inside = (truth.times >= stroke.time_s("entry")) & (truth.times < stroke.time_s("next_entry"))
                    v = np.gradient(hip, truth.times)[inside]
                    _keep(found, "swing_of_the_hip", swing.percent - 100 * v.std() / v.mean(), swing.sigma, 0.0)
    return found


def _keep(found, quantity, error, own, shared):
    if np.isfinite(error) and np.isfinite(own):
        found.rows.setdefault(quantity, []).append((error, own, shared))


def _near(times, at):
    """The time nearest to another, NaN if it is far."""
    k = int(np.nanargmin(np.abs(times - at))) if np.isfinite(at) else 0
    return times[k] if np.isfinite(at) and abs(times[k] - at) < 0.35 else np.nan


def _phases(found, strokes, true, start):
    got = phases(strokes, start)
    for i, stroke in enumerate(got.strokes):
        entry = _near(true["entry"], stroke.time_s("entry"))
        end = _near(true["entry"], stroke.time_s("next_entry"))
        at = {n: _near(true[n], stroke.time_s(n)) for n in (start, "shoulder", "exit")}
        at |= {"entry": entry, "next_entry": end, "start": at[start]}
        for k, (name, (a, b)) in enumerate(PHASES.items()):
            if name in ("push", "recovery") and start == "catch":
                continue
            share = 100 * (at[b] - at[a]) / (end - entry)
            quantity = name if name in ("push", "recovery") else f"{name}, {start}"
            _keep(found, quantity, got.percent[i, k] - share, got.percent_sigma[i, k], got.percent_shared[i, k])


def _index(found, strokes, true, period, start):
    given = coordination(strokes["l"], strokes["r"], start)
    for hand in (*given.to_left, *given.to_right):
        other = "lr".replace(hand.to_side, "")
        lag = _near(true[other]["exit"], hand.end_s) - _near(true[hand.to_side][start], hand.start_s)
        _keep(found, f"index, {start}", hand.index_pct - 100 * lag / period, hand.sigma_pct, hand.shared_pct)


def film_of(swimmer, **more):
    return Film(swimmer, **{"seconds": 8.0, "unrolled": True} | more)
