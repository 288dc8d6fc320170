"""Every picture painted is the frame that it is said to be, however the coach gets there, from film and singly."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from marker_page import until
from picture_page import CORNERS, COUNT, FILMS, Screen, opened

if TYPE_CHECKING:
    from conftest import Lab

pytestmark = pytest.mark.browser
STEPS = {"ArrowRight": 1, "ArrowLeft": -1, "Shift+ArrowRight": 10, "Shift+ArrowLeft": -10, "Home": -999, "End": 999}


@pytest.fixture(scope="module", params=FILMS)
def screen(lab: Lab, new_page: Any, request: pytest.FixtureRequest) -> Iterator[Screen]:
    screen = opened(lab, new_page, request.param, slower=8 if request.param == "uneven" else 1)
    until(lambda: screen.decoded() > 0, True, seconds=20)
    yield screen
    screen.page.close()


def walk(screen: Screen, keys: list[str], at: int) -> int:
    """Press keys without waiting for anything; the frame where they must end."""
    for key in keys:
        at = min(max(at + STEPS[key], 0), COUNT - 1)
    screen.press(*keys)
    return at


def agree(seen: list[tuple[int, int, float]]) -> int:
    wrong = [(read, claimed) for read, claimed, _ in seen if read != claimed]
    assert not wrong, f"{len(wrong)} of {len(seen)} painted pictures were other frames: {wrong[:5]}"
    return len(seen)


def test_however_fast_the_keys_every_picture_is_the_frame_it_says(screen: Screen) -> None:
    screen.press("Home")
    screen.shows(0)
    screen.watch()
    chance = np.random.default_rng(5)
    at = 0
    for often in ([4, 1, 1, 1, 0, 0], [1, 4, 1, 1, 0, 0], [2, 2, 2, 2, 1, 1]):
        keys = chance.choice(list(STEPS), 40, p=np.array(often) / sum(often)).tolist()
        at = walk(screen, keys, at)
        screen.shows(at)
    assert agree(screen.seen()) > 30
    assert screen.decoded() > 0


def test_a_held_key_shows_frames_in_order_from_film_alone_once_that_is_here(screen: Screen) -> None:
    def held() -> int:
        """How many pictures came singly while the key was down."""
        screen.press("Home")
        screen.shows(0)
        time.sleep(0.4)
        singles = screen.singles()
        screen.watch()
        for _ in range(60):
            screen.page.keyboard.down("ArrowRight")
        screen.page.keyboard.up("ArrowRight")
        screen.shows(60)
        seen = screen.seen()
        agree(seen)
        claimed = [claimed for _, claimed, _ in seen]
        assert claimed == sorted(claimed)
        return screen.singles() - singles

    until(held, 0, seconds=25)


def test_film_has_the_colours_of_what_was_filmed(screen: Screen) -> None:
    screen.press("0", "Home")
    screen.shows(0)
    screen.press("ArrowRight")
    screen.shows(1)
    for name, (across, down) in {"top_left": (0.1, 0.1), "top_right": (0.9, 0.1), "bottom_left": (0.1, 0.9)}.items():
        assert np.abs(np.subtract(screen.colour(across, down), CORNERS[name])).max() < 24, name


def test_closer_than_the_film_the_sources_own_pixels_come(screen: Screen) -> None:
    screen.press("Home", "ArrowRight", "ArrowRight")
    screen.shows(2)
    canvas = screen.page.locator(".cb-picture")
    assert int(canvas.get_attribute("data-width") or 0) == max(960 * screen.size[0] // max(screen.size), 1)
    screen.press(*["+"] * 5)
    until(lambda: canvas.get_attribute("data-width"), str(screen.size[0]))
    screen.press("ArrowRight")
    until(lambda: canvas.get_attribute("data-frame"), "3")
    until(lambda: canvas.get_attribute("data-width"), str(screen.size[0]))
    screen.press("0")
    screen.shows(3)


def test_jumps_from_reel_to_reel_show_the_frame_under_the_pointer(screen: Screen) -> None:
    strip = screen.page.locator(".cb-strip")
    box = strip.bounding_box()
    assert box is not None
    screen.watch()
    for frame in np.random.default_rng(6).integers(0, COUNT, 12).tolist():
        strip.click(position={"x": (frame + 0.5) / COUNT * box["width"], "y": box["height"] / 2})
        screen.shows(frame)
    agree(screen.seen())


@pytest.mark.parametrize("key", ["1", "4"])
def test_play_shows_every_frame_once_in_order_across_reels(screen: Screen, key: str) -> None:
    screen.press("Home", "Shift+ArrowRight", "Shift+ArrowRight", "Shift+ArrowRight", key)
    screen.shows(30)
    screen.watch()
    screen.press(" ")
    until(lambda: screen.number()[1] >= (110 if key == "1" else 60), True, seconds=25)
    screen.press(" ")
    seen = screen.seen()
    agree(seen)
    claimed = [claimed for _, claimed, _ in seen]
    assert claimed == list(range(31, 31 + len(seen)))


def test_the_marked_frames_follow_each_mark_and_each_undoing(screen: Screen) -> None:
    path = screen.page.locator(".cb-strip path")
    screen.page.mouse.move(5, 5)
    screen.press("Home", "Shift+ArrowRight", "Shift+ArrowRight")
    screen.shows(20)
    screen.press("Enter")
    until(lambda: (path.get_attribute("d") or "").count("M"), 1)
    screen.press("Home", "PageDown")
    screen.shows(20)
    screen.press("Control+z")
    until(lambda: path.get_attribute("d"), "")
    screen.press("Home", "PageDown")
    screen.shows(0)


# ---- where the browser has no decoder, or loses it


def test_without_a_decoder_single_pictures_do(lab: Lab, new_page: Any) -> None:
    screen = opened(lab, new_page, "turned", script="delete window.VideoDecoder; window.decoded = 0;", tag="_bare")
    screen.watch()
    chance = np.random.default_rng(8)
    screen.shows(walk(screen, chance.choice(list(STEPS), 40).tolist(), 0))
    agree(screen.seen())
    screen.page.close()


def test_a_decoder_that_is_taken_away_is_opened_anew(screen: Screen) -> None:
    screen.press("Home")
    screen.shows(0)
    before = screen.page.evaluate("(window.decoders.forEach((one) => one.state !== 'closed' && one.close()), decoded)")
    screen.press("End")
    screen.shows(COUNT - 1)
    until(lambda: screen.decoded() > before, True)


def test_a_decoder_that_always_fails_is_given_up(lab: Lab, new_page: Any) -> None:
    broken = """
window.tries = 0;
VideoDecoder.prototype.decode = function () { window.tries += 1; throw new Error("broken"); };
"""
    screen = opened(lab, new_page, "uneven", script=broken, tag="_broken")
    until(lambda: screen.page.evaluate("window.tries"), 3, seconds=20)
    screen.watch()
    screen.shows(walk(screen, ["ArrowRight"] * 30 + ["Shift+ArrowRight"] * 3, 0))
    agree(screen.seen())
    assert screen.page.evaluate("window.tries") == 3
    screen.page.close()
