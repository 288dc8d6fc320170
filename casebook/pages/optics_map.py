"""The off-axis error of a clip's camera as a picture: bands of equal error over the frame."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

from casebook.pages.palette import LIGHT, Tones

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.error_map import ErrorMap

#: Edges of the bands, each a little darker than the one before. [%]
BANDS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def optics_map_png(
    found: ErrorMap, picture: NDArray[np.uint8] | None = None, tones: Tones = LIGHT, width: float = 640.0
) -> bytes:
    """The map as PNG, over a frame of the clip if one is given.

    Parameters
    ----------
    found : ErrorMap
    picture : (H, W, 3) uint8 array, optional
        A frame of the clip, shown pale underneath.
    tones : Tones
    width : float
        Of the figure, in points.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.figure import Figure

    high = width * found.size[1] / found.size[0]
    figure = Figure(figsize=(width / 72, (high + 26) / 72), dpi=144, facecolor=tones.paper)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, high / (high + 26)))
    axes.set(xlim=(-0.5, found.size[0] - 0.5), ylim=(found.size[1] - 0.5, -0.5))
    axes.axis("off")
    if picture is not None:
        axes.imshow(picture, extent=(-0.5, found.size[0] - 0.5, found.size[1] - 0.5, -0.5), alpha=0.8)
    off = np.abs(found.percent)
    shades = LinearSegmentedColormap.from_list("error", [tones.paper, tones.warm])
    edges = [0.0, *BANDS, max(2 * BANDS[-1], float(np.nanmax(off, initial=0.0)))]
    colours = [(*shades(i / len(BANDS))[:3], 0.06 + 0.45 * i / len(BANDS)) for i in range(len(edges) - 1)]
    axes.contourf(found.x_px, found.y_px, np.ma.masked_invalid(off), levels=edges, colors=colours)
    lines = axes.contour(
        found.x_px, found.y_px, np.ma.masked_invalid(off), levels=BANDS, colors=tones.ink, linewidths=1
    )
    axes.clabel(lines, fmt=lambda value: f"{value:g} %", fontsize=9, colors=tones.ink)
    figure.text(
        0.01, 1 - 17 / (high + 26), f"How much too {_way(found)} a short length is drawn, against the middle",
        color=tones.ink, fontsize=11,
    )  # fmt: skip
    out = io.BytesIO()
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def _way(found: ErrorMap) -> str:
    known = found.percent[np.isfinite(found.percent) & (np.abs(found.percent) >= BANDS[0])]
    if known.size == 0 or (known > 0).all():
        return "long"
    return "short" if (known < 0).all() else "long or short"
