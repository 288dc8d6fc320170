"""Blocks of what was counted: two efforts side by side, and the tally of strokes on the moving picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.finding import Finding
from casebook.clip.loop import encode_loop
from casebook.files import write_atomic
from casebook.pages.block import Block, media_name, rounded
from casebook.pages.moments import media
from casebook.pages.palette import PICTURE, rgb
from casebook.pages.picture import cut, font, jpeg, side_by_side
from casebook.plane.propagate import Z95
from casebook.stroke.efforts import Effort, clean_of, efforts_of, fits
from casebook.stroke.lengths import UNITS, Length, product, segments
from casebook.stroke.lengths import side_by_side as two_efforts
from casebook.stroke.rate import Rate
from casebook.stroke.strokes import strokes_of
from casebook.stroke.tally import Count
from casebook.stroke.tally import tally as counted_strokes
from casebook.words import SIDES

if TYPE_CHECKING:
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.pages.telling import Result

#: Measures of a length: what a row of the table is called, its unit, decimals, and whether a swimmer is shown it.
ROWS: dict[str, tuple[str, str, int, bool]] = {
    "seconds": ("Seconds for a length", "", 1, True),
    "strokes": ("Strokes for a length", "", 1, True),
    "strokes_per_min": ("Strokes a minute, push-off counted in", "", 0, True),
    "metres_per_cycle": ("Metres a cycle, push-off counted in", "", 2, True),
    "speed": ("Speed over the length", "m/s", 2, True),
    "pace_100_s": ("Time for 100 {unit} like this", "s", 1, True),
    "stroke_index": ("Stroke index, push-off counted in", "m²/s", 2, False),
}
NOT_COUNTED = (
    "Nobody has counted a length of this swimmer. Count the strokes of both arms and take the time of a few lengths, "
    "easy and at race pace: one alone says little. A line in a cell keeps one: desk.count_length(18.2, 19)."
)
#: Pictures of the tally: their width, and how many a second at most.
TALLY_WIDTH, TALLY_PER_S = 640, 30.0
#: A number stays on the picture for so long, and a tally is shown for no longer than this. [s]
STAYS_S, LONGEST_S = 0.6, 10.0
#: So many pictures stand for the tally where nothing moves.
STRIP = 4


def efforts(desk: Desk, result: Result, before: str = "", after: str = "") -> Block:
    """Two efforts side by side as counted at the pool: seconds and strokes first, with what can be told from them.

    Parameters
    ----------
    before, after : str
        Names of two swims; the slowest and the fastest that were counted unless given.
    """
    lengths = desk.case.lengths
    found = efforts_of(lengths)
    title = "Easy and fast, side by side"
    if not found:
        return Block("efforts", NOT_COUNTED, {"title": "", "rows": [], "names": [], "notes": []})
    chosen = _chosen(found, before, after)
    rows = _rows(chosen)
    notes = [*_clean(desk, lengths), *_fit(desk, result, lengths)]
    names = _short([e.swim for e in chosen])
    caption = f"{'; '.join(e.title for e in chosen)}. Give or take: what a watch in the hand and a count can err by."
    data: dict[str, Any] = {
        "title": title if len(chosen) > 1 else "As counted at the pool",
        "names": names,
        "rows": [r for r in rows if r.pop("told")],
        "notes": notes,
        "caption": caption,
    }
    words = [data["title"], caption, *_lines(rows, names), *(notes or [_to_time(_pool_m(desk))])]
    return Block("efforts", "\n".join(words), data)


def _chosen(found: tuple[Effort, ...], before: str, after: str) -> tuple[Effort, ...]:
    """The two efforts asked for, of one distance; or the slowest and the fastest of the distance counted most."""
    if before and after:
        named = {e.swim: e for e in found}
        return tuple(named[name] for name in (before, after) if name in named)
    kinds = [(e.lengths[0].distance, e.lengths[0].unit) for e in found]
    usual = max(kinds, key=kinds.count)
    own = sorted((e for e, kind in zip(found, kinds, strict=True) if kind == usual), key=_slowness)
    return (own[0], own[-1]) if len(own) > 1 else tuple(own)


def _short(names: list[str]) -> list[str]:
    """Names of swims without the day that they share.

    >>> _short(["2026-05-02 easy", "2026-05-02 race pace"]), _short(["spring", "autumn"])
    (['easy', 'race pace'], ['spring', 'autumn'])
    """
    parted = [name.partition(" ") for name in names]
    same = len({day for day, _, _ in parted}) == 1 and all(rest for _, _, rest in parted)
    return [rest for _, _, rest in parted] if same and len(names) > 1 else names


def _slowness(effort: Effort) -> float:
    seconds = effort.mean("seconds")[0]
    return -seconds if math.isfinite(seconds) else 0.0


def _rows(chosen: tuple[Effort, ...]) -> list[dict[str, Any]]:
    """A row for each measure: every effort's value and give or take, and the difference with its 95 % interval."""
    changes = {}
    if len(chosen) == 2:
        changes = {c.what: c for c in two_efforts(list(chosen[0].lengths), list(chosen[1].lengths))}
    rows = []
    for what, (name, unit, places, told) in ROWS.items():
        if not any(what in e.measures for e in chosen):
            continue
        values = [_value(e.mean(what), places, whole=what == "strokes") for e in chosen]
        change = changes.get(what)
        gap = ""
        if change is not None:
            gap = f"{change.difference:+.{places}f} ({change.low:+.{places}f} to {change.high:+.{places}f})"
            gap = gap.replace("-", "\N{MINUS SIGN}") if change.clear else "can't tell"
        end = f", {unit}" if unit else ""
        title = name.format(unit=chosen[0].lengths[0].unit) + end
        rows.append({"title": title, "values": values, "difference": gap, "told": told})
    if chosen[0].lengths[0].unit != "m" and "pace_100_s" in chosen[0].measures:
        paces = [[one.pace_100("m") for one in e.lengths if one.seconds] for e in chosen]
        values = [f"{sum(p) / len(p):.1f}" if p else "" for p in paces]
        rows.append({"title": "Time for 100 m like this, s", "values": values, "difference": "", "told": True})
    return rows


def _value(mean: tuple[float, float], places: int, *, whole: bool) -> str:
    value, half = mean
    if not math.isfinite(value):
        return ""
    digits = 0 if whole and value == int(value) else places
    # Without spaces, so that it stays on one line on a phone.
    return f"{value:.{digits}f}\N{PLUS-MINUS SIGN}{half:.{places}f}"


def _lines(rows: list[dict[str, Any]], names: list[str]) -> list[str]:
    out = []
    for r in rows:
        said = "; ".join(f"{name} {value}" for name, value in zip(names, r["values"], strict=True) if value)
        out.append(f"  {r['title']}: {said}" + (f"; difference {r['difference']}" if r["difference"] else ""))
    return out


def _to_time(pool_m: float) -> str:
    """What to time for clean swimming, for the coach: of a length between two turns, by race analysis."""
    first, last = segments(3 * pool_m, pool_m).clean[1]
    begin, far = first - pool_m, last - first
    return (
        f"For clean swimming without push-off and turn time the swimmer from {begin:g} to {begin + far:g} m from the "
        f"wall, and keep it with desk.count_length(seconds, strokes, distance={far:g}, from_wall={begin:g})."
    )


def _clean(desk: Desk, lengths: tuple[Length, ...]) -> list[str]:
    """Clean swimming apart from push-off and turn, where a part of a length was timed."""
    out = []
    for one in clean_of(_of_swim(desk, lengths), _pool_m(desk)):
        assert one.from_wall is not None
        half = Z95 * one.sigma("speed")
        whole = [w for w in _of_swim(desk, lengths) if w.is_whole and w.seconds]
        said = f"Clean swimming, {one.from_wall:g} to {one.from_wall + one.distance:g} {one.unit} from the wall: "
        said += f"{one.speed:.2f} m/s (give or take {half:.2f})"
        if one.strokes:
            said += f", {one.strokes_per_min:.0f} strokes a minute, {one.metres_per_cycle:.2f} m a cycle"
        if whole:
            mean = sum(w.speed for w in whole) / len(whole)
            said += f"; the whole length, push-off and all, {mean:.2f} m/s"
        out.append(f"{said}.")
    return out


def _fit(desk: Desk, result: Result, lengths: tuple[Length, ...]) -> list[str]:
    """Whether speed by the watch, and rate times distance per cycle by the clip, say the same."""
    rate, way = result.get("cycles_per_min", ""), result.get("distance_per_cycle_m", "")
    clean = clean_of(_of_swim(desk, lengths), _pool_m(desk))
    if not isinstance(rate, Finding) or not isinstance(way, Finding) or not clean:
        return []
    speed = sum(one.speed for one in clean) / len(clean)
    unsure = math.sqrt(sum(one.sigma("speed") ** 2 for one in clean)) / len(clean)
    halves = rate.these.half / Z95, way.these.half / Z95
    found = product(speed, unsure, Rate(rate.value), halves[0], way.value, halves[1])
    return [fits((speed, Z95 * unsure), found)]


def _of_swim(desk: Desk, lengths: tuple[Length, ...]) -> tuple[Length, ...]:
    return tuple(one for one in lengths if desk.shot.swim is not None and one.swim == desk.shot.swim.id)


def _pool_m(desk: Desk) -> float:
    """Length of the pool that the swim was in; 25 m where it is none. [m]"""
    number, _, unit = (desk.shot.swim.place if desk.shot.swim else "").partition(" ")
    return float(number) * UNITS[unit] if unit in UNITS else 25.0


def tally(desk: Desk, result: Result | None = None) -> Block:
    """The strokes of both arms counted on the moving picture, to follow by eye: a number as each hand goes in."""
    shot = desk.shot
    counts = counted_strokes(*(strokes_of(shot, desk.marks, desk.plane, side, desk.told_events) for side in "lr"))
    if not counts:
        words = "Nothing is counted: no hand's entry is marked. Mark the fingertips of both hands where they go in."
        return Block("prose", words, {"title": "", "paragraphs": [], "items": []})
    times = shot.times if np.isfinite(shot.times).all() else shot.clip.times
    stop = min(shot.stop, int(np.searchsorted(times, times[shot.start] + LONGEST_S)))
    shown = [c for c in counts if shot.start <= c.frame < stop]
    stride = max(1, round((stop - shot.start) / (times[stop - 1] - times[shot.start]) / TALLY_PER_S))
    frames = list(range(shot.start, stop, stride))
    pictures = shot.clip.frames(shot.start, stop, stride)
    made = encode_loop(
        (np.asarray(_numbered(p, _now(shown, times, f))) for p, f in zip(pictures, frames, strict=True)),
        times[frames] - times[frames[0]],
        width=TALLY_WIDTH,
    )
    name = f"{shot.id}-tally"
    file, poster = media_name(name, ending="mp4"), media_name(name, "poster", ending="jpg")
    first = int(np.searchsorted(frames, shown[0].frame)) if shown else 0
    stills = [_numbered(shot.clip.frame(round(c.frame)), c) for c in shown[:STRIP]]
    write_atomic(media(desk) / file, made.mp4)
    write_atomic(media(desk) / poster, jpeg(stills[0] if stills else _numbered(shot.clip.frame(frames[0]), None), 80))
    data: dict[str, Any] = {
        "name": name,
        "file": file,
        "poster": poster,
        "title": "The strokes counted, to check by eye",
        "size": list(made.size),
        "times": [rounded(t, 5) for t in made.times_s],
        "clock": [rounded(t, 3) for t in times[frames] - times[frames[0]]] if np.isfinite(shot.times).all() else [],
        "start": min(first, len(frames) - 1),
        "moments": [
            {"at": min(int(np.searchsorted(frames, c.frame)), len(frames) - 1), "title": f"{c.number} {SIDES[c.side]}"}
            for c in shown
        ],
        "lines": [],
        "stills": [],
        "alt": f"{len(shown)} entries of the hands, counted.",
        "caption": "A number stands on the picture as each hand goes in. One that is wrong: set that entry yourself.",
    }
    words = f"{len(shown)} entries of both hands: {', '.join(_told(c) for c in shown)}."
    strip = side_by_side(stills, height=160) if stills else None
    return Block("loop", words, data, jpeg(strip) if strip is not None else None)


def _told(c: Count) -> str:
    return f"{c.number} {SIDES[c.side]} (picture {c.frame:.0f}{', set by you' if c.by_coach else ''})"


def _now(counts: list[Count], times: Any, frame: int) -> Count | None:
    """The count that stands on a picture: the last one, for a while."""
    before = [c for c in counts if c.frame <= frame]
    at = float(np.interp(before[-1].frame, np.arange(len(times)), times)) if before else np.nan
    return before[-1] if before and times[frame] - at <= STAYS_S else None


def _numbered(frame: Any, count: Count | None) -> Image.Image:
    """A picture with the number and the hand of a count in its corner; without one, as it is."""
    from PIL import ImageDraw

    image, _ = cut(frame, (0, 0, frame.shape[1], frame.shape[0]), TALLY_WIDTH)
    if count is None:
        return image
    size = image.height / 6
    pen = ImageDraw.Draw(image)
    for words, high, down in ((str(count.number), size, 0.25), (f"{SIDES[count.side]} hand in", size / 3, 1.4)):
        pen.text(
            (size * 0.4, size * down), words, font=font(high), fill=rgb(PICTURE.line),
            stroke_width=max(2, round(high / 12)), stroke_fill=rgb(PICTURE.dark),
        )  # fmt: skip
    return image
