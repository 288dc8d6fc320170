"""The coach's voice for a checkpoint: a recording dropped into the case, made small and clean for the page.

A file lies in the case as ``voice/<checkpoint>.m4a`` (or mp3, wav, ogg, opus, webm); ``voice/plan.*`` goes with what to
work on first. It stays with this swimmer: a voice names who speaks and often who is spoken to, so no workshop pack
ever holds one.
"""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.case.settings import inside
from casebook.errors import PageError
from casebook.pages.markup import clean
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from collections.abc import Iterator

FOLDER = "voice"
ENDINGS = (".m4a", ".mp3", ".wav", ".ogg", ".opus", ".webm")
#: What has a voice note of its own: every checkpoint, and what to work on first.
SPOKEN_OF = ("plan", *CHECKPOINTS)
#: A note is about one thing, and a minute of it is long. [s] common practice, no source
LONGEST_S = 90.0
#: Speech keeps all that makes it clear below half of this rate. [Hz]
RATE_HZ = 24_000
BITS_PER_S = 40_000
#: Containers of those endings and no other, so that no playlist in disguise is followed.
_FORMATS = "mov,mp3,wav,ogg,matroska,webm"
_RECORD = "Record it again, as a voice note of up to a minute and a half."


def note_of(case_folder: Path | str, checkpoint: str) -> bytes | None:
    """The voice note of a checkpoint as a small MP4 (mono AAC, no metadata), or None where there is none.

    Parameters
    ----------
    case_folder : Path or str
    checkpoint : str
        Key of ``words.CHECKPOINTS``, or ``plan``.

    Raises
    ------
    PageError
        The file is no recording, is damaged, holds no sound, lasts longer than ``LONGEST_S``, or there are two.
    CaseError
        The file is a link that leads out of the case.
    """
    path = note_file(Path(case_folder), checkpoint)
    return None if path is None else encode_note(path)


def note_file(case_folder: Path, checkpoint: str) -> Path | None:
    """Where the coach's recording of a checkpoint lies; None without one. Raises PageError if there are two."""
    folder = case_folder / FOLDER
    if checkpoint not in SPOKEN_OF or not folder.is_dir():
        return None
    found = sorted(p for p in folder.iterdir() if p.stem.lower() == checkpoint and p.suffix.lower() in ENDINGS)
    if len(found) > 1:
        raise PageError(
            f"There are {len(found)} voice notes for {checkpoint}: {' and '.join(p.name for p in found)}.",
            "Keep one of them.",
        )
    return inside(case_folder, f"{FOLDER}/{found[0].name}", "voice note") if found else None


def strays(case_folder: Path) -> list[str]:
    """A sentence for each recording in the folder that no page plays, because its name is not a checkpoint's."""
    folder = case_folder / FOLDER
    if not folder.is_dir():
        return []
    said = f"Call it by its checkpoint: {', '.join(SPOKEN_OF)}."
    found = sorted(p for p in folder.iterdir() if not p.name.startswith("."))
    unknown = [p for p in found if p.stem.lower() not in SPOKEN_OF or p.suffix.lower() not in ENDINGS]
    return [f'The voice note "{clean(p.name)}" goes with nothing. {said}' for p in unknown]


def encode_note(path: Path) -> bytes:
    """A recording as mono AAC in an MP4 that every browser plays; the same bytes for the same recording.

    Raises
    ------
    PageError
        As ``note_of``.
    """
    import av

    try:
        with av.open(f"file:{path}", "r", options=_only_this_file(), metadata_errors="replace") as box:
            if not box.streams.audio:
                raise PageError(f'The voice note "{path.name}" holds no sound.', _RECORD, path=path)
            return _encoded(path, _samples(path, box))
    except (av.error.FFmpegError, OSError, ValueError):
        raise PageError(f'The voice note "{path.name}" cannot be played: it is damaged.', _RECORD, path=path) from None


def _only_this_file() -> dict[str, str]:
    return {"protocol_whitelist": "file", "format_whitelist": _FORMATS}


def _samples(path: Path, box: Any) -> Iterator[Any]:
    """The recording as frames of mono floating-point samples; stops with a sentence where it becomes too long."""
    from av.audio.resampler import AudioResampler

    small = AudioResampler(format="fltp", layout="mono", rate=RATE_HZ)
    heard = 0
    for frame in box.decode(box.streams.audio[0]):
        frame.pts = None
        for part in small.resample(frame):
            heard += part.samples
            if heard > LONGEST_S * RATE_HZ:
                raise PageError(
                    f'The voice note "{path.name}" lasts longer than {LONGEST_S:.0f} seconds.',
                    "Say one thing, and record it again.",
                    path=path,
                )
            yield part
    yield from small.resample(None)


def _encoded(path: Path, frames: Iterator[Any]) -> bytes:
    import av

    target, at = io.BytesIO(), 0
    with av.open(target, "w", format="mp4", options={"fflags": "+bitexact"}) as out:
        stream: Any = out.add_stream("aac", rate=RATE_HZ, layout="mono", options={"threads": "1"})
        stream.bit_rate = BITS_PER_S
        stream.codec_context.flags |= _bitexact()
        for frame in frames:
            frame.pts, frame.time_base = at, Fraction(1, RATE_HZ)
            at += frame.samples
            out.mux(stream.encode(frame))
        if not at:
            raise PageError(f'The voice note "{path.name}" holds no sound.', _RECORD, path=path)
        out.mux(stream.encode(None))
    return target.getvalue()


def _bitexact() -> int:
    from av.codec.context import Flags

    return int(Flags["bitexact"])
