"""Opening a video file, or saying in one sentence why it cannot be opened."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from casebook.errors import ClipError

_STILL_FORMATS = ("image2", "tty", "ico", "apng", "webp_anim")
_COPY_AGAIN = "Copy it again from the camera or phone, or ask for the original file."


def open_video(path: Path) -> tuple[Any, Any]:
    """The opened container and its main video stream.

    Raises
    ------
    ClipError
        The file is missing, a folder, empty, cut before its index, not a video, without pictures, or in a format that
        cannot be decoded.
    """
    import av

    _check_file(path)
    try:
        # Only this file: a playlist in disguise must not reach out to others or to the network.
        box = av.open(f"file:{path}", "r", options={"protocol_whitelist": "file"}, metadata_errors="replace")
    except (av.error.FFmpegError, OSError, ValueError) as problem:
        raise _cannot_open(path, problem) from None
    try:
        return box, _video_stream(box, path)
    except ClipError:
        box.close()
        raise


def _check_file(path: Path) -> None:
    facts = {"path": path}
    if path.is_dir():
        raise ClipError(f'"{path.name}" is a folder, not a video file.', "Name a file inside it.", **facts)
    if not path.exists():
        raise ClipError(f'There is no file "{path}".', "Check its name and folder.", **facts)
    if path.stat().st_size == 0:
        raise ClipError(f'"{path.name}" is empty (0 bytes).', _COPY_AGAIN, **facts)
    try:
        path.open("rb").close()
    except OSError as problem:
        raise ClipError(
            f'"{path.name}" cannot be read: {problem.strerror}.', "Check who may read it, and the disk.", **facts
        ) from None


def _cannot_open(path: Path, problem: Exception) -> ClipError:
    if _lacks_index(path):
        return ClipError(
            f'"{path.name}" was cut off before its index, so no picture in it can be found.',
            f"The recording or the copying was interrupted. {_COPY_AGAIN}",
            path=path,
        )
    return ClipError(
        f'"{path.name}" is not a video that can be read.',
        "Use the camera's own file, or save the clip anew as MP4.",
        path=path,
        cause=str(problem),
    )


def _lacks_index(path: Path) -> bool:
    """Whether the file is of the MP4 family (ISO/IEC 14496-12: boxes of size and type) and has no ``moov`` box."""
    total = path.stat().st_size
    with path.open("rb") as file:
        at, first = 0, True
        while at + 8 <= total:
            file.seek(at)
            head = file.read(16)
            size, kind = int.from_bytes(head[:4], "big"), head[4:8]
            if first and kind not in (b"ftyp", b"mdat", b"wide", b"free", b"skip"):
                return False
            if kind == b"moov":
                return at + size > total
            first = False
            size = int.from_bytes(head[8:16], "big") if size == 1 else size
            if size < 8:
                return True
            at += size
    return not first


def _video_stream(box: Any, path: Path) -> Any:
    kind = box.format.name
    if kind in _STILL_FORMATS or kind.endswith("_pipe"):
        raise ClipError(f'"{path.name}" is not a video.', "Name a video file, such as MP4 or MOV.", path=path)
    streams = [s for s in box.streams.video if not _is_cover(s)]
    if not streams:
        problem = "holds sound but no pictures" if box.streams.audio else "holds no pictures"
        raise ClipError(f'"{path.name}" {problem}.', "Name a video file, such as MP4 or MOV.", path=path)
    able = [s for s in streams if s.codec_context is not None]
    if not able:
        problem = f'"{path.name}" is coded in a way that cannot be decoded here.'
        raise ClipError(problem, "Save it anew as MP4 with H.264.", path=path)
    return able[0]


def _is_cover(stream: Any) -> bool:
    from av.stream import Disposition

    return bool(stream.disposition & Disposition.attached_pic)
