"""The two ways to count pixels, as the plane uses them; they live in ``clip.pixels``, where marks can reach them."""

from __future__ import annotations

from casebook.clip.pixels import HALF, centre_from_edge, edge_from_centre, resize_xy

__all__ = ["HALF", "centre_from_edge", "edge_from_centre", "resize_xy"]
