"""Following points from picture to picture: optical flow held to what the coach's marks foretell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Grey = NDArray[np.uint8]

#: Lengths below are for pictures of this height and grow with it. [px]
HEIGHT_PX = 540
#: Half the side of the square that is followed. Measured on ``rowan_side`` and ``wren_side``, 5 to 20 frames between
#: marks: wider squares (10, 15 px) hold more water than limb and missed further, narrower (5 px) lost more.
RADIUS_PX = 8
#: The picture is followed at full, half and quarter size: at 20 frames between marks the foretold step may be 10 px
#: off, and without the quarter the flow from there missed by 40 px in one case of twenty, with it by 17
#: (``rowan_side``).
HALVINGS = 2
#: OpenCV's own threshold on texture (1e-4 there) threw away limbs' plain edges, which are weighed here by
#: ``flow_covariance``: without it a fifth fewer points were lost at 5 frames between marks.
LEAST_TEXTURE = 1e-6
#: Standard deviation of a grey level between two pictures of one place: light, shading, coding. With 10 the flow
#: claimed errors far below those that it made, with 40 it followed the foretold path too much. [levels of 256]
GREY_SIGMA = 30.0
#: What the flow between two pictures cannot be trusted below. With 0.3 px the errors claimed were too small, with 1 px
#: those made were larger. [px]
FLOW_SIGMA_PX = 0.5
#: The same for a match with the square at the hand mark: the limb has turned since. Less weight, and none below a
#: likeness of 0.9, kept what the match gains (a sixth less median error at 20 frames) and lost little at 5. [px]
MATCH_SIGMA_PX = 1.5
#: How far around the flow's answer that match is looked for. [px]
MATCH_REACH_PX = 3
#: Likeness (correlation, -1 to 1) from which such a match counts.
MATCH_LIKENESS = 0.9
#: Likeness to what was last seen of a point below which it is out of sight. common practice, no source
SIGHT_LIKENESS = 0.5
#: Likeness to the square at the mark below which nothing of it is there any more. At 10 frames between marks this took
#: a quarter of the places kept on a hidden limb, the worst of them, and lost 0.2 % of the good (``heron_side``); with
#: 0.3 and 0.5 it lost 2 to 7 % at 20 frames, where limbs have turned, and gained little.
MARK_LIKENESS = 0.1
#: Squared distance in standard deviations beyond which an answer is not believed: 99 % of a chi square of 2. At 16 and
#: 25 fewer points were lost, but twice as many went on where the limb was behind another.
DISBELIEF = 9.2
_PLACE, _PACE = np.eye(4)[:2], np.eye(4)[2:]
#: Frames in a row without a believable answer that a point is waited for. common practice, no source
PATIENCE = 3


def lengths_for(height_px: int) -> float:
    """By how much the lengths above grow for a picture of this height; never below half."""
    return max(height_px / HEIGHT_PX, 0.5)


def opencv() -> Any:
    """The OpenCV module; CasebookError if it or a system library that it needs is missing."""
    try:
        import cv2
    except (ImportError, OSError) as error:
        raise CasebookError(
            f"Points cannot be tracked: OpenCV does not load ({error}).",
            "On a bare Linux machine it needs the system libraries libGL.so.1 and libgthread-2.0.so.0 (Debian and "
            "Ubuntu: the packages libgl1 and libglib2.0-0). Everything but tracking works without it.",
        ) from None
    return cv2


def patches(picture: Grey, xy: Floats, radius: int) -> NDArray[np.float32]:
    """Squares around points, (n, 2 radius + 1, 2 radius + 1), between pixels by bilinear interpolation.

    ``xy`` (n, 2) [px]; beyond the picture its edge goes on.
    """
    cv2, side = opencv(), 2 * radius + 1
    along = np.arange(-radius, radius + 1)
    x = np.broadcast_to(xy[:, 0, None, None] + along, (len(xy), side, side)).reshape(-1, side)
    y = np.broadcast_to(xy[:, 1, None, None] + along[:, None], (len(xy), side, side)).reshape(-1, side)
    out = cv2.remap(
        picture, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return out.reshape(len(xy), side, side).astype(np.float32)


def likeness(a: NDArray[np.float32], b: NDArray[np.float32]) -> Floats:
    """Normalised cross-correlation of squares (n, k, k), pair by pair: -1 to 1, whatever the brightness."""
    a, b = (p - p.mean((1, 2), keepdims=True) for p in (a, b))
    together = (a * b).sum((1, 2)) / np.sqrt((a * a).sum((1, 2)) * (b * b).sum((1, 2)) + 1e-6)
    return np.asarray(together, np.float64)


def flow_covariance(square: NDArray[np.float32]) -> Floats:
    """How well a square (n, k, k) can be placed by its own texture: (n, 2, 2) covariances [px squared].

    Inverse of the sums of squared grey gradients (Lucas and Kanade 1981) times the grey levels' variance: wide along
    a limb's edge, wide all round on bare skin.
    """
    gx, gy = (square[:, 1:-1, 2:] - square[:, 1:-1, :-2]) / 2, (square[:, 2:, 1:-1] - square[:, :-2, 1:-1]) / 2
    xy = (gx * gy).sum((1, 2))
    sums = np.stack([(gx * gx).sum((1, 2)), xy, xy, (gy * gy).sum((1, 2))], -1).reshape(-1, 2, 2)
    return np.asarray(GREY_SIGMA**2 * np.linalg.inv(sums.astype(float) + np.eye(2)), np.float64)


def best_match(template: NDArray[np.float32], around: NDArray[np.float32]) -> tuple[Floats, Floats]:
    """Where a square (n, k, k) is most like a part of a larger one (n, k + 2 s, k + 2 s).

    Returns
    -------
    offset : (n, 2) float array
        From the larger square's middle, between pixels by a parabola; NaN if the best place lies at the rim. [px]
    peak : (n,) float array
        Correlation there.
    """
    k, n = template.shape[1], np.arange(len(template))
    parts = np.lib.stride_tricks.sliding_window_view(around, (k, k), axis=(1, 2))
    wanted = template - template.mean((1, 2), keepdims=True)
    wanted = wanted / np.sqrt((wanted**2).sum((1, 2), keepdims=True) + 1e-6)
    spread = np.einsum("nuvij,nuvij->nuv", parts, parts) - k * k * parts.mean((3, 4)) ** 2
    like = np.einsum("nuvij,nij->nuv", parts, wanted) / np.sqrt(np.maximum(spread, 0) + 1e-3)
    steps = like.shape[1]
    v, u = np.divmod(like.reshape(len(template), -1).argmax(1), steps)
    inner = (u > 0) & (u < steps - 1) & (v > 0) & (v < steps - 1)
    cu, cv = np.clip(u, 1, steps - 2), np.clip(v, 1, steps - 2)
    peak = like[n, v, u].astype(float)
    du = _vertex(like[n, cv, cu - 1], like[n, cv, cu], like[n, cv, cu + 1])
    dv = _vertex(like[n, cv - 1, cu], like[n, cv, cu], like[n, cv + 1, cu])
    offset = np.stack([u + du, v + dv], -1) - (steps - 1) / 2
    return np.where(inner[:, None], offset, np.nan), peak


class Follower:
    """All points of one sweep through the pictures, followed together.

    Each is held by its place and by how its pace differs from the foretold one. That difference keeps for some
    pictures, since limbs have mass, and fades, since the marks foretold the rest. The flow between two pictures
    measures it, a match with the square at the mark measures the place; both are weighed against what was expected (a
    Kalman filter).

    Attributes
    ----------
    xy : (P, 2) float array
        Where each point is held to be; NaN if it is not followed. [px]
    pace : (P, 2) float array
        By how much it moves otherwise than foretold. [px per frame]
    covariance : (P, 4, 4) float array
        Of place and pace together, since the mark at which the point started. [px, px per frame]
    """

    def __init__(self, count: int, height_px: int) -> None:
        self.unit = lengths_for(height_px)
        self.radius = round(RADIUS_PX * self.unit)
        side = 2 * self.radius + 1
        self.xy, self.pace = np.full((count, 2), np.nan), np.zeros((count, 2))
        self.covariance = np.zeros((count, 4, 4))
        self._unseen = np.zeros(count, np.int64)
        self._start = np.zeros((count, side, side), np.float32)
        self._last = np.zeros_like(self._start)
        self._picture: Grey | None = None

    @property
    def drift(self) -> Floats:
        """Covariance of what has been lost of each place since its mark, (P, 2, 2). [px squared]"""
        return self.covariance[:, :2, :2]

    def begin(self, picture: Grey, which: NDArray[np.int64], xy: Floats, pace_sigma: Floats) -> None:
        """Start these points (indices) at marks in this picture.

        ``pace_sigma`` (n,) is the standard deviation of their pace about the foretold one. [px per frame]
        """
        self.xy[which], self.pace[which], self._unseen[which] = xy, 0.0, 0
        self.covariance[which] = 0.0
        self.covariance[which, 2, 2] = self.covariance[which, 3, 3] = pace_sigma**2
        self._start[which] = self._last[which] = patches(picture, xy, self.radius)

    def drop(self, which: Flags | NDArray[np.int64]) -> None:
        """Follow these points (mask or indices) no more."""
        self.xy[which] = np.nan

    def look(self, picture: Grey) -> None:
        """Keep this picture as the one to follow from."""
        self._picture = picture

    def step(self, picture: Grey, move: Floats, pace_sigma: Floats, keep: Floats, steps: int = 1) -> Flags:
        """Follow into the next picture.

        Parameters
        ----------
        picture : (H, W) uint8 array
        move : (P, 2) float array
            Foretold motion since the last picture; NaN for points without. [px]
        pace_sigma : (P,) float array
            Standard deviation of the pace about the foretold one where nothing was seen for long. [px per frame]
        keep : (P,) float array
            Share of what is known of it that lasts a frame, 0 to 1.
        steps : int
            Frames since the last picture.

        Returns
        -------
        (P,) bool array
            Seen: believable flow both ways, and alike to what was last seen of the point.
        """
        seen = np.zeros(len(self.xy), bool)
        which = np.flatnonzero(np.isfinite(self.xy).all(-1) & np.isfinite(move).all(-1))
        if not len(which) or self._picture is None:
            return seen
        start = self.xy[which]
        self._expect(which, move[which], pace_sigma[which], keep[which], steps)
        believed = self._flow(picture, which, start, steps)
        alike = self._anchor(picture, which, believed)
        xy, (height, width) = self.xy[which], picture.shape
        inside = ((xy >= 0) & (xy <= (width - 1, height - 1))).all(-1)
        square = patches(picture, xy, self.radius)
        good = believed & inside & (alike > MARK_LIKENESS) & (likeness(self._last[which], square) > SIGHT_LIKENESS)
        self._last[which[good]] = square[good]
        self._unseen[which] = np.where(good, 0, self._unseen[which] + 1)
        self.drop(which[~inside | (self._unseen[which] > PATIENCE)])
        seen[which] = good
        return seen

    def _expect(self, which: NDArray[np.int64], move: Floats, spread: Floats, keep: Floats, steps: int) -> None:
        """Place and pace as they are to be expected before the picture is looked at."""
        n = len(which)
        step = np.broadcast_to(np.eye(4), (n, 4, 4)).copy()
        step[:, 0, 2] = step[:, 1, 3] = step[:, 2, 2] = step[:, 3, 3] = keep
        noise = np.kron(np.ones((2, 2)), np.eye(2)) * ((1 - keep**2) * spread**2)[:, None, None]
        covariance, pace, xy = self.covariance[which], self.pace[which], self.xy[which] + move
        for _ in range(steps):
            pace = pace * keep[:, None]
            xy = xy + pace
            covariance = step @ covariance @ np.swapaxes(step, -1, -2) + noise
        self.covariance[which], self.pace[which], self.xy[which] = covariance, pace, xy

    def _flow(self, picture: Grey, which: NDArray[np.int64], start: Floats, steps: int) -> Flags:
        """Take in the flow since the last picture where it is believed; returns where that is."""
        expected, prior = self.xy[which], steps**2 * self.covariance[which, 2:, 2:]
        texture = flow_covariance(patches(self._picture, start, self.radius + 1))  # type: ignore[arg-type]
        noise = texture + np.eye(2) * (FLOW_SIGMA_PX * self.unit) ** 2
        there, found = self._pyramid(self._picture, picture, start, expected)
        deviation = there - expected
        found &= _squared(deviation, prior + noise) < DISBELIEF
        xy = expected + _share(prior, noise, deviation)
        back, found_back = self._pyramid(picture, self._picture, xy, start)
        unclosed = _share(prior, noise, back - start)
        noise = noise + np.eye(2) * (unclosed**2).sum(-1)[:, None, None]
        believed = found & found_back
        self._take(which[believed], _PACE * steps, deviation[believed], noise[believed])
        return believed

    def _anchor(self, picture: Grey, which: NDArray[np.int64], believed: Flags) -> Floats:
        """Draw the points towards where the picture looks as it did at their marks, where it still does.

        Returns the likeness (n,) to the square at the mark, at its best near by.
        """
        xy, drift = self.xy[which], self.covariance[which, :2, :2]
        around = patches(picture, xy, self.radius + round(MATCH_REACH_PX * self.unit))
        offset, peak = best_match(self._start[which], around)
        texture = flow_covariance(patches(picture, xy, self.radius + 1))
        noise = texture + np.eye(2) * (MATCH_SIGMA_PX * self.unit) ** 2
        use = believed & np.isfinite(offset[:, 0]) & (peak > MATCH_LIKENESS)
        use &= _squared(np.nan_to_num(offset), drift + noise) < DISBELIEF
        self._take(which[use], _PLACE, offset[use], noise[use])
        return peak

    def _take(self, which: NDArray[np.int64], what: Floats, deviation: Floats, noise: Floats) -> None:
        """Weigh a measured deviation (n, 2) with covariance (n, 2, 2) of ``what`` (2, 4) into place and pace."""
        covariance = self.covariance[which]
        spread = what @ covariance @ what.T + noise
        gain = covariance @ what.T @ np.linalg.inv(spread)
        change = np.einsum("nij,nj->ni", gain, deviation)
        self.xy[which] += change[:, :2]
        self.pace[which] += change[:, 2:]
        left = covariance - gain @ what @ covariance
        self.covariance[which] = (left + np.swapaxes(left, -1, -2)) / 2

    def _pyramid(self, a: Any, b: Any, start: Floats, guess: Floats) -> tuple[Floats, Flags]:
        """Pyramidal Lucas-Kanade from picture a to b."""
        cv2, side = opencv(), 2 * self.radius + 1
        there, found, _ = cv2.calcOpticalFlowPyrLK(
            a, b, np.array(start[:, None], np.float32, order="C"), np.array(guess[:, None], np.float32, order="C"),
            winSize=(side, side), maxLevel=HALVINGS, minEigThreshold=LEAST_TEXTURE,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
            criteria=(cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 20, 0.02),
        )  # fmt: skip
        return there[:, 0].astype(float), found.ravel() > 0


def _share(prior: Floats, noise: Floats, deviation: Floats) -> Floats:
    """The part of a measured deviation to believe, (n, 2), given both covariances (n, 2, 2)."""
    return np.einsum("nij,nj->ni", prior, np.linalg.solve(prior + noise, deviation[..., None])[..., 0])


def _squared(deviation: Floats, covariance: Floats) -> Floats:
    """Squared distance in standard deviations, (n,)."""
    return np.einsum("ni,ni->n", deviation, np.linalg.solve(covariance, deviation[..., None])[..., 0])


def _vertex(left: Floats, middle: Floats, right: Floats) -> Floats:
    """Place of a parabola's top through three values at -1, 0, 1; within half a step."""
    curve = left - 2 * middle + right
    return np.where(curve < -1e-9, np.clip((left - right) / (2 * np.where(curve < -1e-9, curve, -1)), -0.5, 0.5), 0.0)
