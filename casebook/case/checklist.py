"""What is still missing for which checkpoint: how it was filmed, lines and lengths, points on the key pictures."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.measure import VIEWS_FOR
from casebook.marks.points import PAIRED
from casebook.words import CAMERAS, CHECKPOINTS, DIRECTIONS, SIDES, VIEWS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from casebook.case.desk import Desk
    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks

#: Strokes on which each key picture is wanted: one may be a chance. common practice, no source
STROKES = 2
#: Strokes a minute, counting each arm, outside which the slow motion is not what was said. common practice, no source
STROKES_A_MINUTE = (30.0, 140.0)
#: Marked frames that tell which way a body lies, at least, and the share of them that must agree. own judgement
_LEAST_FRAMES, _AGREE = 2, 0.8
_NEEDED = "needed: "
#: Longest line of the text. [characters]
WIDTH = 110


@dataclass(frozen=True, slots=True)
class KeyStills:
    """The key pictures of a checkpoint from this view, and how far they are marked.

    ``points`` are what each picture wants, ``clicks`` what all of them together want on ``STROKES`` strokes, ``left``
    what of that is not marked yet, the fullest pictures counted first.
    """

    moments: tuple[str, ...]
    points: tuple[str, ...]
    clicks: int
    left: int

    def text(self) -> str:
        """Which pictures, which points, and how many clicks that is."""
        done = "all marked" if not self.left else f"{self.left} still to set" if self.left < self.clicks else "none yet"
        return (
            f"{_said(self.moments)}. On each: {_named(self.points)}. For {_count(STROKES, 'stroke')} "
            f"{_count(self.clicks, 'click')}: {done}."
        )


@dataclass(frozen=True, slots=True)
class Item:
    """One checkpoint: its key pictures, what it cannot do without, and what would help."""

    checkpoint: str
    stills: KeyStills
    missing: tuple[str, ...] = ()
    helps: tuple[str, ...] = ()

    @property
    def ready(self) -> bool:
        """Everything that it needs is there."""
        return not self.missing and not self.stills.left

    def lines(self) -> list[str]:
        """What is there and what is not."""
        title = CHECKPOINTS[self.checkpoint]
        told = [self.stills.text()]
        told += [f"Missing: {what}." for what in self.missing] + [f"Would help: {what}." for what in self.helps]
        wrapped = (wrap(line, WIDTH, initial_indent="    ", subsequent_indent="    ") for line in told)
        return [f"{title}: {'ready' if self.ready else 'not yet'}", *(line for lines in wrapped for line in lines)]


@dataclass(frozen=True, slots=True)
class Checklist:
    """All of one shot: how it was filmed, what to look into, the checkpoints of its view, and those of other views."""

    shot: str
    filmed: tuple[str, ...]
    doubts: tuple[str, ...]
    items: tuple[Item, ...]
    elsewhere: tuple[str, ...]

    def about(self) -> str:
        """How it was filmed, and what to look into first."""
        return "\n".join([*self.filmed, *(f"Look into this: {doubt}" for doubt in self.doubts)])

    def item(self, checkpoint: str) -> Item | None:
        """One checkpoint; None if this view does not show it."""
        return next((item for item in self.items if item.checkpoint == checkpoint), None)

    @property
    def ready(self) -> tuple[str, ...]:
        """The checkpoints that can be measured now."""
        return tuple(item.checkpoint for item in self.items if item.ready)

    def text(self) -> str:
        """What is still missing for which checkpoint, as plain lines."""
        lines = [f"Look into this: {doubt}" for doubt in self.doubts]
        lines += [line for item in sorted(self.items, key=lambda i: not i.ready) for line in item.lines()]
        return "\n".join([*lines, *self.elsewhere])

    def __str__(self) -> str:
        return self.text()


def checklist(desk: Desk) -> Checklist:
    """What is there and what is missing for this shot, from what the coach has said, drawn and marked so far."""
    shot, marks = desk.shot, desk.marks
    items = tuple(
        _item(row, desk, marks) for row in _knowledge() if any(shot.view in still["views"] for still in row["still"])
    )
    known = {item.checkpoint for item in items}
    elsewhere = [
        f"{CHECKPOINTS[key]}: not from this view. Film {VIEWS[VIEWS_FOR[key][0]]}."
        for key in CHECKPOINTS
        if key not in known
    ]
    return Checklist(shot.id, tuple(_filmed(desk)), tuple(_doubts(desk, marks)), items, tuple(elsewhere))


def _item(row: dict[str, Any], desk: Desk, marks: Marks) -> Item:
    shot = desk.shot
    still = next(s for s in row["still"] if shot.view in s["views"])
    missing: list[str] = []
    helps: list[str] = []
    for key, there, how in (
        ("water", any(line.line == "water" for line in desk.lines), "draw the still water line"),
        ("scale", bool(desk.lengths), "mark a known length in the swimmer's lane"),
        ("seconds", bool(np.isfinite(shot.times).all()), "say how much the file was slowed down"),
    ):
        what = still.get(key, row.get(key, ""))
        if what and not there:
            (missing if what.startswith(_NEEDED) else helps).append(f"{how} ({what.removeprefix(_NEEDED)})")
    points = _points(still, near_side(shot) or "r")
    return Item(row["key"], _stills(still["moments"], points, marks, shot), tuple(missing), tuple(helps))


def _stills(moments: Sequence[str], points: tuple[str, ...], marks: Marks, shot: Shot) -> KeyStills:
    """A point said to be hidden counts as answered, but a picture without any place does not count."""
    own = marks.pick(points, shot.frames)
    placed = np.isfinite(own.xy[..., 0])
    answered = np.where(placed.any(1), (placed | own.hidden).sum(1), 0)
    wanted = STROKES * len(moments)
    clicks = wanted * len(points)
    return KeyStills(tuple(moments), points, clicks, clicks - int(np.sort(answered)[::-1][:wanted].sum()))


def _points(still: dict[str, Any], side: str) -> tuple[str, ...]:
    both = [p for n in still.get("both", ()) for p in ([f"{n}_l", f"{n}_r"] if n in PAIRED else [n])]
    return (*(f"{n}_{side}" for n in still.get("near", ())), *both)


def _filmed(desk: Desk) -> list[str]:
    """How the shot was filmed, as said: each a sentence to agree with or to mend."""
    shot, swim = desk.shot, desk.shot.swim
    said = [swim.effort, f"kit: {swim.kit}" if swim.kit != "none" else "no kit", swim.place] if swim else []
    lines = [f"Swim: {', '.join(part for part in said if part)}."] if said else ["Swim: not said."]
    lines.append(f"Seen {VIEWS[shot.view]}, swimming {DIRECTIONS[shot.direction]}; the camera {CAMERAS[shot.camera]}.")
    side = near_side(shot)
    if side:
        lines.append(f"The {SIDES[side]} arm is nearer the camera.")
    lines.append("The file is mirrored." if shot.mirrored else "The file is not mirrored.")
    lines.append(_time_said(shot))
    water = sum(line.line == "water" for line in desk.lines)
    lines.append(f"Water line: drawn on {_count(water, 'picture')}." if water else "Water line: not drawn.")
    lengths = list(dict.fromkeys(length.what for length in desk.lengths))
    lines.append(f"Known length: {'; '.join(lengths)}." if lengths else "Known length: none marked.")
    return lines


def _time_said(shot: Shot) -> str:
    scales = {part.scale for part in shot.stretches} - {1.0}
    if not scales:
        return "Time: real time throughout."
    if None in scales:
        return "Time: how much the file was slowed down is not known; angles still serve."
    if len(shot.stretches) > 1:
        return f"Time: slowed down in stretches, up to {max(s for s in scales if s):g} times."
    return f"Time: slowed down {max(s for s in scales if s):g} times."


def _doubts(desk: Desk, marks: Marks) -> list[str]:
    """Where what was said and what was marked or filmed do not go together."""
    return [*_wrong_way_round(desk.shot, marks), *_wrong_time(desk.shot, marks), *desk.shot.clip.facts.losses]


def _wrong_way_round(shot: Shot, marks: Marks) -> list[str]:
    """From the side the shoulders go before the hips; head-on a swimmer's left shoulder is on the picture's right."""
    if shot.view.startswith("side") and shot.sign:
        side = near_side(shot)
        ahead = shot.sign * _apart(marks, shot, f"shoulder_{side}", f"hip_{side}")
        if _mostly(ahead < 0):
            return [
                f"the hips are marked ahead of the shoulders, for a swimmer who goes {DIRECTIONS[shot.direction]}. "
                "Is the direction right?"
            ]
    if shot.view.split("_")[0] in ("front", "rear"):
        turned = (1 if shot.direction == "toward" else -1) * (-1 if shot.mirrored else 1)
        left = turned * _apart(marks, shot, "shoulder_l", "shoulder_r")
        if _mostly(left < 0):
            return [
                "left and right shoulders are marked the other way round than this view shows them. Were the sides "
                "swapped, or is the file mirrored? Lettering and the wrist with the watch tell."
            ]
    return []


def _wrong_time(shot: Shot, marks: Marks) -> list[str]:
    rate = _strokes_a_minute(shot, marks)
    low, high = STROKES_A_MINUTE
    if np.isnan(rate) or low <= rate <= high:
        return []
    return [
        f"the arm turns at about {rate:.0f} strokes a minute. People swim at {low:.0f} to {high:.0f}: how much was the "
        "file slowed down? Phones often store full speed at both ends and slow motion between."
    ]


def _strokes_a_minute(shot: Shot, marks: Marks) -> float:
    """How fast the hand goes round the shoulder, from the side, counting each arm; NaN from too few marks.

    Rough, for a sanity check alone: over the steps between marks in which the arm turns by less than a right angle, and
    only if these make three quarters of a turn together.
    """
    side, times = near_side(shot), shot.times
    if not side:
        return np.nan
    own = marks.pick((f"wrist_{side}", f"shoulder_{side}"), shot.frames)
    arm = own.xy[:, 0] - own.xy[:, 1]
    held = np.isfinite(arm).all(1) & np.isfinite(times[own.frames])
    turn = np.diff(np.arctan2(arm[held, 1], arm[held, 0]))
    turn = np.abs((turn + np.pi) % (2 * np.pi) - np.pi)
    small = turn < np.pi / 2
    if turn[small].sum() < 1.5 * np.pi:
        return np.nan
    return float(2 * 60 * turn[small].sum() / (2 * np.pi) / np.diff(times[own.frames][held])[small].sum())


def _apart(marks: Marks, shot: Shot, a: str, b: str) -> np.ndarray:
    """How far point a is to the right of b, on the frames that hold both. [px]"""
    x = marks.pick((a, b), shot.frames).xy[..., 0]
    apart = x[:, 0] - x[:, 1]
    return apart[np.isfinite(apart)]


def _mostly(what: np.ndarray) -> bool:
    return len(what) >= _LEAST_FRAMES and bool(what.mean() >= _AGREE)


def _named(points: Sequence[str]) -> str:
    """Points in words: each side said once, pairs together.

    >>> _named(["crown", "hip_r", "knee_r", "ear_l", "ear_r"])
    'right hip and knee; crown; both ears'
    """
    groups: dict[str, list[str]] = {"right": [], "left": [], "": [], "both": []}
    for point in points:
        name, _, side = point.rpartition("_")
        if not name:
            groups[""].append(point)
        elif {f"{name}_l", f"{name}_r"} <= set(points):
            groups["both"] += [f"{name}s"] if f"{name}s" not in groups["both"] else []
        else:
            groups[SIDES[side]].append(name)
    return "; ".join(f"{side} {_and(names)}".strip() for side, names in groups.items() if names)


def _and(words: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def _said(moments: Sequence[str]) -> str:
    text = "; ".join(moments)
    return text[:1].upper() + text[1:]


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


@cache
def _knowledge() -> tuple[dict[str, Any], ...]:
    text = Path(__file__).with_name("key_stills.toml").read_text("utf-8")
    return tuple(tomllib.loads(text)["checkpoint"])
