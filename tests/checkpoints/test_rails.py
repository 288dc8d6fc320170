"""Both hands' rails: what a camera off the line of swimming does to each hand falls out of their sum.

Truth is the demo swimmer's fingertips in the pool.
"""

from __future__ import annotations

import numpy as np
import pytest
from demo_shots import filmed, joint

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.entry import measure_entry
from casebook.checkpoints.finding import Finding
from casebook.demo.swimmer import Swimmer
from casebook.marks.marks import Marks
from casebook.plane.measured import Measured

BANDS = load_bands("distance")


def entry(marks, shot, plane):
    return measure_entry(shot, marks, plane, bands=BANDS, distance=Measured(3.6, 0.4))


@pytest.mark.parametrize("crossover", [0.0, 0.5, 1.0])
def test_the_rails_are_those_of_the_swimmers_hands(crossover):
    swimmer = Swimmer(rate=41.3, breathing="none", crossover=crossover, seed=2)
    shot, marks, plane, truth = filmed(swimmer, "front_under", sigma=1.0, seed=2)
    found = entry(marks, shot, plane).get("front_rails_pct")
    assert isinstance(found, Finding)
    breadth = np.linalg.norm(joint(truth, "shoulder_l") - joint(truth, "shoulder_r"), axis=1).max()
    middle = 0.5 * (joint(truth, "shoulder_l") + joint(truth, "shoulder_r"))[:, 1]
    true = []
    for side, out in (("l", 1), ("r", -1)):
        beside = out * (joint(truth, f"fingertip_{side}")[:, 1] - middle)
        deep = joint(truth, f"fingertip_{side}")[:, 2]
        ahead = joint(truth, f"fingertip_{side}")[:, 0] - joint(truth, f"shoulder_{side}")[:, 0]
        front = (deep < 0) & (ahead > 0.45)
        true.append(100 * beside[front].min() / breadth)
    assert found.value == pytest.approx(sum(true), abs=max(12.0, 0.12 * abs(sum(true))))


def test_a_camera_off_the_line_moves_each_hand_and_not_their_sum():
    swimmer = Swimmer(rate=41.3, breathing="none", crossover=1.0, seed=2)
    shot, marks, plane, truth = filmed(swimmer, "front_under", sigma=0.0)
    straight = entry(marks, shot, plane)
    # Four degrees off: what lies ahead of the shoulders is shifted across the picture by its lead.
    moved = Marks(marks.points, marks.frames, marks.xy.copy(), marks.sigma_px, marks.origin, marks.hidden)
    for side in "lr":
        k = marks.index(f"fingertip_{side}")
        lead = joint(truth, f"fingertip_{side}")[marks.frames, 0] - joint(truth, f"shoulder_{side}")[marks.frames, 0]
        px_per_m = np.linalg.norm(np.diff(marks.pick(("shoulder_l", "shoulder_r"), marks.frames).xy, axis=1), axis=2)
        moved.xy[:, k, 0] += np.tan(np.radians(4.0)) * lead * np.nanmax(px_per_m) / 0.4
    off = entry(moved, shot, plane)

    def shift(quantity, side=""):
        return off.get(quantity, side).value - straight.get(quantity, side).value

    assert abs(shift("front_from_midline_pct", "l")) > 8 and abs(shift("front_from_midline_pct", "r")) > 8
    assert abs(shift("front_rails_pct")) < 3
    assert straight.get("front_rails_pct").these.half < straight.get("front_from_midline_pct", "l").these.half / 2
