"""The pose model as this project uses it: one picture in, 33 landmarks of one body out."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.errors import CasebookError
from casebook.marks.model import missing_library

if TYPE_CHECKING:
    from numpy.typing import NDArray

N_LANDMARKS = 33
#: Thresholds under the model's usual 0.5 found more swimmers in poor pictures.
CONFIDENCE = 0.25


class Landmarker:
    """The pose model, open; to be used in a ``with`` block, since it holds memory outside Python."""

    def __init__(self, model: Path) -> None:
        try:
            from mediapipe.tasks.python.core.base_options import BaseOptions
            from mediapipe.tasks.python.vision import PoseLandmarker, PoseLandmarkerOptions
            from mediapipe.tasks.python.vision.core.image import Image, ImageFormat
        except (ImportError, OSError) as error:
            raise missing_library(error) from None
        self._picture = lambda rgb: Image(image_format=ImageFormat.SRGB, data=rgb)
        # The bytes, not the path: the library cannot open paths with letters beyond ASCII on every system.
        options = PoseLandmarkerOptions(
            base_options=BaseOptions(model_asset_buffer=model.read_bytes()),
            min_pose_detection_confidence=CONFIDENCE,
            min_pose_presence_confidence=CONFIDENCE,
        )
        try:
            with _quiet_library():
                self._task: Any = PoseLandmarker.create_from_options(options)
        except (FileNotFoundError, RuntimeError, ValueError) as error:
            # A part that the bundle lacks is told as a missing file.
            raise CasebookError(
                f'"{model.name}" cannot be opened as a pose model ({error}).', "Fetch it again: casebook fetch-model"
            ) from None
        except OSError as error:
            raise missing_library(error) from None

    def __enter__(self) -> Landmarker:
        return self

    def __exit__(self, *_: object) -> None:
        with _quiet_library():
            self._task.close()

    def see(self, picture: NDArray[np.uint8]) -> NDArray[np.float64]:
        """Landmarks of the one body in an RGB picture (H, W, 3), head up.

        Returns
        -------
        (33, 3) float array
            Shares of width and height from the picture's edge, and visibility 0 to 1; NaN if no body was found.
        """
        with _quiet_library():
            poses = self._task.detect(self._picture(picture)).pose_landmarks
        if not poses:
            return np.full((N_LANDMARKS, 3), np.nan)
        return np.array([[p.x, p.y, p.visibility] for p in poses[0]], float)


@contextmanager
def _quiet_library() -> Iterator[None]:
    """Keep the library's notes to its own makers out of the notebook; they come from below Python, in dozens."""
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
