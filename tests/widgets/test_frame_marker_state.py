"""The frame marker's Python side: wishes from the browser become marks on disk, and the static picture shows them."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from base64 import b64decode
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import casebook.widgets
from casebook.checkpoints.drawing import Drawing, Label
from casebook.clip.clip import Clip
from casebook.errors import CasebookError, ClipError, MarksError
from casebook.marks.lines import LineMark
from casebook.marks.marks import Marks, Origin
from casebook.marks.store import MarkStore
from casebook.pages.palette import DARK, LIGHT, PICTURE
from casebook.widgets.frame_marker import FrameMarker
from casebook.widgets.state import browser_module

ARM = ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r")
WIDGETS = Path(casebook.widgets.__file__).parent


class Browser:
    """Stands where the browser is: sends wishes, keeps the answers."""

    def __init__(self, marker: FrameMarker) -> None:
        self.marker = marker
        self.heard: list[tuple[dict[str, Any], list[bytes] | None]] = []
        marker.send = lambda content, buffers=None: self.heard.append((content, buffers))

    def wish(self, do: str, **more: Any) -> None:
        self.marker._handle_custom_msg({"do": do, "view": "v", "seq": len(self.heard), **more}, [])

    @property
    def last(self) -> dict[str, Any]:
        return self.heard[-1][0]


@pytest.fixture
def marker(heron: Clip, store: MarkStore) -> FrameMarker:
    return FrameMarker(heron, store, points=ARM)


@pytest.fixture
def browser_side(marker: FrameMarker) -> Browser:
    return Browser(marker)


def picture(data: bytes | str) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(b64decode(data) if isinstance(data, str) else data)).convert("RGB"), int)


# ---- what it says of itself


def test_its_name_counts_its_own_marks_and_holds_no_address(heron: Clip, store: MarkStore) -> None:
    store.put(3, "elbow_r", 10, 10)
    assert repr(FrameMarker(heron, store, points=ARM)) == "FrameMarker(heron_side: 1 mark)"
    store.put(4, "elbow_r", 10, 10)
    store.put(4, "knee_r", 10, 10)
    store.put(5, "elbow_r", 10, 10)
    store.hide(5, "wrist_r")
    assert repr(FrameMarker(heron, store, points=ARM, start=4)) == "FrameMarker(heron_side: 2 marks)"


def test_a_run_without_a_browser_gives_the_same_output_each_time(heron: Clip, store: MarkStore) -> None:
    store.put(3, "elbow_r", 100, 90)
    first, again = (FrameMarker(heron, store, points=ARM)._repr_mimebundle_()[0] for _ in range(2))
    assert first["text/plain"] == again["text/plain"] == "FrameMarker(heron_side: 1 mark)"
    assert first["image/jpeg"] == again["image/jpeg"]
    assert "application/vnd.jupyter.widget-view+json" in first


def test_it_opens_on_the_first_marked_frame(heron: Clip, store: MarkStore) -> None:
    assert FrameMarker(heron, store, points=ARM, start=2).frame == 2
    store.put(9, "elbow_r", 100, 90)
    store.put(1, "elbow_r", 100, 90)
    assert FrameMarker(heron, store, points=ARM, start=2).frame == 9


def test_the_static_picture_carries_mark_line_and_measure(heron: Clip, store: MarkStore) -> None:
    store.put(3, "elbow_r", 100, 90)
    line = LineMark(0, "water", 0.0, 30.0, 319.0, 30.0, 2.0, Origin.hand, "ab")

    def draw(frame: int, marks: Any) -> Drawing:
        return Drawing(measure=(((200.0, 60.0), (200.0, 150.0)),), labels=(Label((205.0, 100.0), "9"),))

    shown = picture(FrameMarker(heron, store, points=ARM, lines=[line], draw=draw)._repr_mimebundle_()[0]["image/jpeg"])
    grey = 40 + 4 * 3
    assert shown.shape == (180, 320, 3)
    assert shown[90, 100].min() > 200, "the mark is white"
    assert shown[28:33].min(-1).max(0).mean() > grey + 40, "the water line crosses the whole picture"
    red, _, blue = shown[110, 198:203].max(0)
    assert red - blue > 60, "the measure is warm"
    assert np.abs(shown[160, 20:80] - grey).max() <= 8, "elsewhere the frame is as it was"


def test_a_wide_frame_is_shrunk_with_its_marks_in_place(marker: FrameMarker, store: MarkStore) -> None:
    store.put(3, "elbow_r", 100, 90)
    shown = picture(marker.still(3, width=160))
    assert shown.shape == (90, 160, 3)
    bright = np.argwhere(shown.min(-1) > 180).mean(0)
    # (100 + 0.5) / 2 - 0.5: centres at integers in both pictures.
    assert bright == pytest.approx((44.75, 49.75), abs=0.5)


def test_a_fresh_kernel_gives_the_same_output_to_the_last_letter(heron_mp4: Path, tmp_path: Path) -> None:
    script = (
        "import hashlib, json, sys; from casebook.clip.clip import Clip; from casebook.marks.store import MarkStore\n"
        "from casebook.widgets.frame_marker import FrameMarker\n"
        "clip = Clip(sys.argv[1]); store = MarkStore(sys.argv[2], clip.times)\n"
        "for _ in range(2):\n"
        "    print(json.dumps(FrameMarker(clip, store, points=['elbow_r'])._repr_mimebundle_()[0], sort_keys=True))"
    )
    command = [sys.executable, "-c", script, str(heron_mp4), str(tmp_path / "marks.csv")]
    first, again = (subprocess.run(command, capture_output=True, text=True, check=True).stdout for _ in range(2))
    assert first == again
    one, two = map(json.loads, first.splitlines())
    view = "application/vnd.jupyter.widget-view+json"
    assert one[view]["model_id"] != two[view]["model_id"], "two tools in one kernel stay apart"


# ---- wishes


def test_a_put_is_on_disk_when_it_is_answered(browser_side: Browser, heron: Clip, store: MarkStore) -> None:
    # A whole number comes out of JSON as an int.
    browser_side.wish("put", frame=7, point="elbow_r", x=100, y=50.125)
    with MarkStore(store.path, heron.times) as second:
        assert second.marks.at(7) == {"elbow_r": (100.0, 50.125)}
        assert second.at(7)["elbow_r"].origin is Origin.hand
        assert second.at(7)["elbow_r"].by == "ab"
    assert browser_side.last["state"]["marks"] == {"elbow_r": [100.0, 50.125]}
    assert browser_side.last["seq"] == 0
    assert browser_side.marker.marked == [[7, 1]]


def test_hide_and_erase_undo_and_redo(browser_side: Browser, store: MarkStore) -> None:
    browser_side.wish("put", frame=0, point="elbow_r", x=100.5, y=50)
    browser_side.wish("hide", frame=0, point="elbow_r")
    assert browser_side.last["state"]["hidden"] == ["elbow_r"]
    assert browser_side.last["state"]["marks"] == {}
    browser_side.wish("undo", frame=0)
    assert store.marks.at(0) == {"elbow_r": (100.5, 50.0)}
    browser_side.wish("erase", frame=0, point="elbow_r")
    assert store.marks.n_marked == 0
    browser_side.wish("undo", frame=0)
    browser_side.wish("undo", frame=0)
    assert browser_side.last["state"]["marks"] == {}
    browser_side.wish("redo", frame=0)
    assert store.marks.at(0) == {"elbow_r": (100.5, 50.0)}
    browser_side.wish("undo", frame=0)
    browser_side.wish("undo", frame=0)
    assert browser_side.marker.marked == []


def test_undoing_a_change_on_another_frame_goes_there(browser_side: Browser) -> None:
    browser_side.wish("put", frame=7, point="elbow_r", x=1, y=2)
    browser_side.marker.frame = 20
    browser_side.wish("undo", frame=20)
    assert browser_side.marker.frame == 7


def test_what_was_undone_is_the_chosen_point(browser_side: Browser) -> None:
    browser_side.wish("put", frame=0, point="elbow_r", x=1, y=2)
    browser_side.wish("hide", frame=0, point="wrist_r")
    browser_side.wish("put", frame=0, point="elbow_r", x=3, y=4)
    chosen = []
    for _ in range(3):
        browser_side.wish("undo", frame=0)
        chosen.append(browser_side.last["chosen"])
    assert chosen == ["elbow_r", "wrist_r", "elbow_r"]
    browser_side.wish("undo", frame=0)
    assert browser_side.last["chosen"] is None, "nothing is left to undo"


def test_a_preview_is_answered_and_not_kept(heron: Clip, store: MarkStore) -> None:
    marker = FrameMarker(heron, store, points=ARM, live=lambda frame, marks: f"{frame}: {marks['elbow_r'][0]:.2f}")
    there = Browser(marker)
    there.wish("preview", frame=4, point="elbow_r", x=10.25, y=5)
    assert there.last["state"]["live"] == "4: 10.25"
    assert there.last["preview"] is True
    assert store.marks.n_marked == 0
    assert marker.marked == []


@pytest.mark.parametrize(
    "bad",
    [
        {"frame": 3, "point": "knee_r", "x": 1, "y": 1},
        {"frame": 99, "point": "elbow_r", "x": 1, "y": 1},
        {"frame": 3, "point": "elbow_r", "x": float("nan"), "y": 1},
    ],
    ids=["a point not asked for", "a frame outside", "no place"],
)
def test_what_cannot_be_kept_is_refused_with_a_sentence(browser_side: Browser, store: MarkStore, bad: dict) -> None:
    browser_side.wish("put", **bad)
    assert store.marks.n_marked == 0
    assert browser_side.marker.trouble
    assert {message["kind"] for message, _ in browser_side.heard} == {"refused", "state"}
    browser_side.wish("put", frame=3, point="elbow_r", x=1, y=1)
    assert browser_side.marker.trouble == ""


def test_a_store_that_cannot_save_says_so_and_the_mark_is_taken_back(browser_side: Browser, store: MarkStore) -> None:
    store.close()
    browser_side.wish("put", frame=3, point="elbow_r", x=1, y=1)
    assert "closed" in browser_side.marker.trouble
    assert browser_side.last["state"]["marks"] == {}


def test_a_value_that_cannot_be_had_never_stops_the_marking(heron: Clip, store: MarkStore) -> None:
    def live(frame: int, marks: Any) -> str:
        if frame == 1:
            raise CasebookError("There is no water line yet.", "Draw one.")
        return str(1 / 0)

    there = Browser(FrameMarker(heron, store, points=ARM, live=live, draw=lambda frame, marks: 1 / 0))
    there.wish("put", frame=1, point="elbow_r", x=1, y=1)
    assert there.last["state"]["live"] == "There is no water line yet. Draw one."
    there.wish("put", frame=2, point="elbow_r", x=1, y=1)
    assert "ZeroDivisionError" in there.last["state"]["live"]
    assert store.marks.n_marked == 2


def test_pictures_come_at_the_width_asked_for_and_whole(browser_side: Browser) -> None:
    for width, size in ((160, (90, 160)), (0, (180, 320))):
        browser_side.wish("picture", frame=11, width=width)
        message, buffers = browser_side.heard[-1]
        assert (message["frame"], message["width"]) == (11, width)
        shown = picture(buffers[0])
        assert shown.shape[:2] == size
        assert abs(shown.mean() - (40 + 4 * 11)) < 4


def test_a_picture_outside_the_shot_is_not_sent(heron: Clip, store: MarkStore) -> None:
    there = Browser(FrameMarker(heron, store, points=ARM, start=5, stop=10))
    there.wish("picture", frame=4, width=160)
    there.wish("picture", frame=10, width=160)
    assert there.heard == []


def test_a_frame_that_cannot_be_read_is_said_of_that_frame_alone(
    browser_side: Browser, heron: Clip, monkeypatch: pytest.MonkeyPatch
) -> None:
    def torn(i: int, width: int | None = None, quality: int = 85) -> bytes:
        raise ClipError(f"Frame {i} of heron_side.mp4 is damaged.")

    monkeypatch.setattr(heron, "jpeg", torn)
    browser_side.wish("picture", frame=11, width=160)
    assert (browser_side.last["kind"], browser_side.last["wish"]["frame"]) == ("refused", 11)
    assert browser_side.last["why"] == "Frame 11 of heron_side.mp4 is damaged."
    assert browser_side.marker.trouble == "", "a neighbour fetched ahead must not alarm"


# ---- changes from elsewhere


def test_marks_set_by_other_means_show_at_once(browser_side: Browser, store: MarkStore) -> None:
    xy = np.array([[[10.0, 20.0]], [[11.0, 21.0]]])
    store.put_marks(Marks.from_arrays(["elbow_r"], [0, 5], xy, origin=Origin.tracked))
    assert browser_side.marker.marked == [[0, 1], [5, 1]]
    assert browser_side.last["state"]["origins"] == {"elbow_r": "tracked"}


def test_another_program_is_noticed_on_refresh(browser_side: Browser, heron: Clip, store: MarkStore) -> None:
    with MarkStore(store.path, heron.times) as second:
        second.put(6, "wrist_r", 5, 5)
        browser_side.marker.refresh()
        assert browser_side.marker.marked == [[6, 1]]


def test_two_tools_on_one_store_tell_each_other(heron: Clip, store: MarkStore) -> None:
    one, two = (FrameMarker(heron, store, points=ARM) for _ in range(2))
    Browser(one).wish("put", frame=2, point="elbow_r", x=1, y=1)
    assert two.marked == [[2, 1]]


# ---- misuse, and the house's look


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"points": ("ellbow_r",)}, "ellbow_r"),
        ({"points": ()}, "No point"),
        ({"points": ("elbow_r", "elbow_r")}, "twice"),
        ({"points": ARM, "start": 20, "stop": 10}, "20 to 10"),
        ({"points": ARM, "stop": 31}, "0 to 30"),
    ],
)
def test_misuse_is_named(heron: Clip, store: MarkStore, wrong: dict, says: str) -> None:
    with pytest.raises(MarksError, match=says):
        FrameMarker(heron, store, **wrong)


def test_the_tool_wears_the_pages_tones() -> None:
    css = (WIDGETS / "frame_marker.css").read_text("utf-8")
    light, dark = (dict(re.findall(r"--(\w+): (#\w+);", block)) for block in css.split("data-jp-theme-light")[:2])
    assert light and light == {name: getattr(LIGHT, name) for name in light}
    assert light.keys() == dark.keys()
    assert dark == {name: getattr(DARK, name) for name in dark}
    module = browser_module(WIDGETS / "parts")
    assert f'INK = "{PICTURE.dark}", WHITE = "{PICTURE.line}", WARM = "{PICTURE.measure}"' in module


def test_the_browser_side_asks_no_other_place() -> None:
    sources = [browser_module(WIDGETS / "parts"), (WIDGETS / "frame_marker.css").read_text("utf-8")]
    for text in sources:
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|@import|url\(|\bimport\s*\(", text)
