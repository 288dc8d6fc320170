"""Strokes written down by their instants."""

from __future__ import annotations

from casebook.stroke.moment import Moment, NoMoment
from casebook.stroke.strokes import EVENTS, Stroke


def moment(event, side, time_s, sigma_s=0.005, shared_s=0.0, fps=100.0):
    return Moment(event, side, time_s, sigma_s, time_s * fps, (int(time_s * fps),), shared_s=shared_s)


def stroke(side, number, times, next_entry=None, kind="none", sigma_s=0.005, shared=None):
    """A stroke from event -> time; what is left out is missing. ``past_body`` stands for ``catch`` too."""
    shared = shared or {}
    times = dict(times)
    times.setdefault("catch", times.get("past_body"))
    times.setdefault("end_of_extension", times.get("past_body"))
    whole = tuple(
        NoMoment(e, side, "Not marked.", "Mark it.") if times.get(e) is None
        else moment(e, side, times[e], sigma_s, shared.get(e, 0.0))
        for e in EVENTS
    )  # fmt: skip
    end = (
        NoMoment("entry", side, "The shot ends.") if next_entry is None else moment("entry", side, next_entry, sigma_s)
    )
    return Stroke(side, number, kind, whole, end)


def train(side, n, cycle, parts, delay=0.0, sigma_s=0.005, rng=None):
    """``n`` equal strokes; ``parts`` are the times of backward start, shoulder and exit after entry. [s]"""
    jitter = (lambda: 0.0) if rng is None else (lambda: float(rng.normal(0, sigma_s)))
    entries = [delay + k * cycle + jitter() for k in range(n + 1)]
    out = []
    for k in range(n):
        at = delay + k * cycle
        times = {"entry": entries[k]} | {
            e: at + p + jitter() for e, p in zip(("past_body", "shoulder", "exit"), parts, strict=True)
        }
        out.append(stroke(side, k + 1, times, entries[k + 1], sigma_s=sigma_s))
    return out


EXAMPLE = (0.36, 0.60, 0.88)
CYCLE = 1.20
