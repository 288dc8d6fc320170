"""Cutting a recording into the swimmers' own clips: exact in frames, only what may be cut, the recording untouched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.clip.clip import Clip
from casebook.clip.loop import Loop, encode_loop
from casebook.errors import SquadError
from casebook.files import write_atomic
from casebook.pages.palette import LIGHT, rgb
from casebook.squad.cuts import Cut, made_for, told
from casebook.squad.entry import Entry, Pass, read_entry, write_entry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.squad.squad import Squad

#: Quality of the swimmers' clips and of the loops beside the grid, as for ``encode_loop``.
CRF, LOOP_CRF = 20, 30
#: Width of the loops [px], and how many pictures a second they need. [1/s]
LOOP_WIDTH, LOOP_FPS = 640, 30.0
LOOP_FILE = "loop.mp4"
#: Of the blanked copy, which is put together in memory: greatest width [px] and quality.
COPY_WIDTH, COPY_CRF = 1280, 28


@dataclass(frozen=True, slots=True)
class CutReport:
    """What was cut, what was kept closed and why, what waits for the coach, and who was not found."""

    made: tuple[Cut, ...]
    closed: tuple[tuple[Cut, str], ...]
    waiting: tuple[Cut, ...]
    missing: tuple[int, ...]

    def text(self, clip: Clip) -> str:
        """The report as sentences."""
        numbers = sorted({c.number for c in self.made if c.number is not None})
        lines = [f"Cut for {len(numbers)} swimmers: {', '.join(map(str, numbers)) or 'nobody'}."]
        for cut, why in self.closed:
            lines.append(f"NOT CUT, number {cut.number} ({_span(clip, cut)}): {why}.")
        for cut in self.waiting:
            who = "no number" if cut.number is None else f"number {cut.number}"
            lines.append(f"Waits, {who} ({_span(clip, cut)}): {cut.say}.")
        if self.missing:
            lines.append(
                f"No stretch for {', '.join(map(str, self.missing))}. If they swam, their slates were not seen, and "
                "the stretch before may show them: look before anything is handed over."
            )
        return "\n".join(lines)


def sort_cuts(squad: Squad, cuts: Sequence[Cut]) -> CutReport:
    """Which cuts may be made, by the roster as it stands; nothing is written."""
    made, closed, waiting = [], [], []
    for cut in cuts:
        why = why_closed(squad, cut.number) if cut.number is not None else ""
        if why:
            closed.append((cut, why))
        elif cut.number is None or cut.say:
            waiting.append(cut if cut.say else Cut(cut.start, cut.stop, None, "type its number"))
        else:
            made.append(cut)
    met = {c.number for c in cuts}
    missing = tuple(m.number for m in squad.filmable if m.number not in met)
    return CutReport(tuple(made), tuple(closed), tuple(waiting), missing)


def why_closed(squad: Squad, number: int) -> str:
    """Why nothing of a number may be cut, as the end of a sentence; empty if it may."""
    member = squad.roster.get(number)
    return "not on the roster" if member is None else member.why_not(squad.judged_on)


def cut_recording(squad: Squad, clip: Clip, cuts: Sequence[Cut], progress: bool = True) -> CutReport:
    """Cut what may be cut into ``swimmers/<number>/``; another cut of his is replaced, the same one stays."""
    from tqdm import tqdm

    report = sort_cuts(squad, cuts)
    by_number: dict[int, list[Cut]] = {}
    for cut in report.made:
        by_number.setdefault(int(cut.number or 0), []).append(cut)
    for number, own in tqdm(by_number.items(), desc="Cutting", unit="swimmer", disable=not progress):
        _cut_one(squad, clip, number, own)
    return report


def write_blanked(squad: Squad, clip: Clip, cuts: Sequence[Cut], target: Path, progress: bool = True) -> Path:
    """A smaller copy of the recording, without sound, in which only the stretches that may be cut are left to be seen.

    All else is one even tone: slates, what lies between, who must not be filmed, and what waits.
    """
    if target.exists() and target.resolve() == clip.path.resolve():
        raise SquadError(f'"{target.name}" is the recording itself, which is never changed.', "Name another file.")
    from tqdm import tqdm

    shown = np.zeros(clip.n_frames, bool)
    for cut in sort_cuts(squad, cuts).made:
        shown[cut.start : cut.stop] = True
    blank = np.broadcast_to(np.array(rgb(LIGHT.ground), np.uint8), (clip.size[1], clip.size[0], 3))
    frames = tqdm(range(clip.n_frames), desc="Copying", unit="picture", disable=not progress)
    pictures = (clip.frame(i) if shown[i] else blank for i in frames)
    write_atomic(target, encode_loop(pictures, clip.times, width=COPY_WIDTH, crf=COPY_CRF, quick=True).mp4)
    return target


def earlier_cuts(squad: Squad) -> tuple[int, ...]:
    """Numbers that lie in ``swimmers/`` though the roster no longer allows it."""
    folder = squad.folder / "swimmers"
    numbers = [int(p.name) for p in folder.iterdir() if p.name.isdigit()] if folder.is_dir() else []
    return tuple(sorted(n for n in numbers if why_closed(squad, n)))


def _cut_one(squad: Squad, clip: Clip, number: int, cuts: Sequence[Cut]) -> None:
    folder = squad.entry(number)
    if _is_cut(squad, clip, number, cuts):
        return
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("pass_*.mp4"):
        old.unlink()
    passes = []
    for k, cut in enumerate(cuts, 1):
        name = f"pass_{k}.mp4"
        times = clip.times[cut.start : cut.stop]
        write_atomic(folder / name, _encoded(clip, cut.start, cut.stop, 1, clip.size[0], CRF).mp4)
        passes.append(Pass(name, cut.start, cut.stop, round(float(times[0]), 3), round(float(times[-1]), 3)))
    with Clip(folder / passes[0].file) as own:
        write_atomic(folder / LOOP_FILE, _encoded(own, 0, own.n_frames, loop_step(own.times), LOOP_WIDTH, LOOP_CRF).mp4)
    write_entry(squad, Entry(number, tuple(passes), recording=made_for(clip)))


def _is_cut(squad: Squad, clip: Clip, number: int, cuts: Sequence[Cut]) -> bool:
    """Whether just these stretches of this recording lie in his folder already."""
    entry = read_entry(squad, number)
    if entry is None or entry.recording != made_for(clip):
        return False
    same = [(p.start, p.stop) for p in entry.passes] == [(c.start, c.stop) for c in cuts]
    names = [*(p.file for p in entry.passes), LOOP_FILE]
    return same and all((squad.entry(number) / Path(name).name).is_file() for name in names)


def loop_step(times: NDArray[np.float64]) -> int:
    """Every how many-th picture a loop takes, so that it has about ``LOOP_FPS``."""
    gap = float(np.median(np.diff(times))) if len(times) > 1 else 1.0
    return max(1, round(1 / (gap * LOOP_FPS)))


def _encoded(clip: Clip, start: int, stop: int, step: int, width: int, crf: int) -> Loop:
    return encode_loop(_sound(clip, start, stop, step), clip.times[start:stop:step], width=width, crf=crf, quick=True)


def _sound(clip: Clip, start: int, stop: int, step: int) -> Iterator[NDArray[np.uint8]]:
    """The pictures; in the place of a damaged one the last sound one, so that none is lost from the count."""
    from casebook.errors import ClipError

    last: NDArray[np.uint8] | None = None
    for i in range(start, stop, step):
        try:
            last = clip.frame(i)
        except ClipError:
            if last is None:
                last = np.zeros((clip.size[1], clip.size[0], 3), np.uint8)
        yield last


def _span(clip: Clip, cut: Cut) -> str:
    return f"{told(float(clip.times[cut.start]))} to {told(float(clip.times[cut.stop - 1]))}"
