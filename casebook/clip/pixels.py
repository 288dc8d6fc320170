"""The one place that converts between the two ways to count pixels.

Marks and video frames put a pixel's centre at a whole number: the first pixel covers -0.5 to 0.5. Browsers, drawing
canvases, renderers and anything that scales a picture put its edge there: the first pixel covers 0 to 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: From a pixel's edge to its centre. [px]
HALF = 0.5


def edge_from_centre(xy: ArrayLike) -> NDArray[np.float64]:
    """From pixel centres at whole numbers to pixel edges at whole numbers: (0, 0) becomes (0.5, 0.5). (..., 2) [px]"""
    return np.asarray(xy, float) + HALF


def centre_from_edge(xy: ArrayLike) -> NDArray[np.float64]:
    """From pixel edges at whole numbers to pixel centres at whole numbers: (0.5, 0.5) becomes (0, 0). (..., 2) [px]"""
    return np.asarray(xy, float) - HALF


def resize_xy(xy: ArrayLike, from_size: tuple[int, int], to_size: tuple[int, int]) -> NDArray[np.float64]:
    """The same places in a picture of another size; pixel centres at whole numbers before and after.

    Parameters
    ----------
    xy : (..., 2) float array [px]
    from_size, to_size : (width, height) [px]

    Returns
    -------
    (..., 2) float array [px]
        Picture edges fall on picture edges, not first centres on first centres.
    """
    factor = np.asarray(to_size, float) / np.asarray(from_size, float)
    return centre_from_edge(edge_from_centre(xy) * factor)
