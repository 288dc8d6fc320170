"""The picture as shown: upright, with square pixels, in the right colours, one field of an interlaced pair."""

from __future__ import annotations

import io
from fractions import Fraction

import av
import numpy as np
import pytest
from numbered import CORNERS, Film, corner, picture, read_number, shoot
from PIL import Image

from casebook.clip.clip import Clip

SHARP = {"crf": "4", "preset": "ultrafast"}


def colours_off(image: np.ndarray) -> float:
    return max(float(np.abs(corner(image, name) - rgb).max()) for name, rgb in CORNERS.items())


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("ending", ["mp4", "mov", "mkv"])
def test_a_turned_film_comes_out_upright(tmp_path, turn, ending):
    clip = Clip(shoot(tmp_path / f"turned.{ending}", Film(n=6, turn=turn, options=SHARP)))
    assert clip.rotation == turn
    assert clip.size == (160, 96)
    for i in (0, 5, 2):
        assert clip.frame(i).shape == (96, 160, 3)
        assert read_number(clip.frame(i)) == i
        assert colours_off(clip.frame(i)) < 12


@pytest.mark.parametrize("turn", [90, 270])
def test_the_turn_agrees_with_the_general_library(tmp_path, turn):
    path = shoot(tmp_path / "turned.mp4", Film(n=2, turn=turn, options=SHARP))
    with av.open(str(path)) as box:
        stored = next(box.decode(video=0))
        # PyAV gives the counter-clockwise turn, from libavutil's av_display_rotation_get.
        expected = np.rot90(stored.to_ndarray(format="rgb24"), stored.rotation // 90)
    # Colour is spread over half-resolution borders in slightly different ways; a wrong turn is off by about 100.
    assert np.abs(Clip(path).frame(0).astype(int) - expected).mean() < 3


@pytest.mark.parametrize(("flip", "axis"), [("hflip", 1), ("vflip", 0)])
def test_a_film_that_asks_to_be_mirrored_is(tmp_path, flip, axis):
    path = tmp_path / "mirrored.mp4"
    with av.open(str(path), "w") as box:
        stream = box.add_stream("libx264", rate=30, options=SHARP)
        stream.width, stream.height, stream.pix_fmt = 160, 96, "yuv420p"
        stream.set_display_rotation(0, **{flip: True})
        for i in range(3):
            box.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(np.flip(picture(i), axis)))))
        box.mux(stream.encode(None))
    clip = Clip(path)
    assert [read_number(f) for f in clip.frames()] == [0, 1, 2]
    assert any("mirrored" in note for note in clip.facts.notes)


@pytest.mark.parametrize(("aspect", "size"), [(Fraction(4, 3), (213, 96)), (Fraction(8, 9), (160, 108))])
@pytest.mark.parametrize("ending", ["mp4", "mkv"])
def test_pixels_that_are_not_square_are_stretched_and_nothing_is_lost(tmp_path, aspect, size, ending):
    clip = Clip(shoot(tmp_path / f"wide.{ending}", Film(n=4, pixel_aspect=aspect, options=SHARP)))
    assert clip.size == size
    assert clip.frame(3).shape == (size[1], size[0], 3)
    assert read_number(clip.frame(3)) == 3
    assert clip.facts.pixel_aspect == pytest.approx(float(aspect))


def test_a_circle_filmed_with_oblong_pixels_comes_out_round(tmp_path):
    y, x = np.mgrid[:96, :160]
    # Pixels 4/3 as wide as high: a true circle of radius 30 lines covers 22.5 stored columns to each side.
    disc = np.where(((x - 79.5) * 4 / 3) ** 2 + (y - 47.5) ** 2 <= 30**2, 255, 0).astype(np.uint8)
    film = Film(n=1, pixel_aspect=Fraction(4, 3), options=SHARP)
    clip = Clip(shoot(tmp_path / "disc.mp4", film, [np.repeat(disc[..., None], 3, 2)]))
    on = clip.frame(0)[..., 1] > 128
    wide, high = on.any(axis=0).sum(), on.any(axis=1).sum()
    assert abs(int(wide) - int(high)) <= 1


def test_a_turned_film_with_oblong_pixels_is_stretched_before_it_is_turned(tmp_path):
    clip = Clip(shoot(tmp_path / "both.mp4", Film(n=2, turn=90, pixel_aspect=Fraction(4, 3), options=SHARP)))
    assert clip.size == (160, 128)  # Stored 96 wide x 160 high, shown 128 x 160, then turned.
    assert read_number(clip.frame(1)) == 1


@pytest.mark.parametrize("matrix", ["ITU601", "ITU709", "BT2020"])
@pytest.mark.parametrize("full_range", [False, True])
@pytest.mark.parametrize("pix_fmt", ["yuv420p", "yuv420p10le"])
def test_colours_come_back_as_they_were_filmed(tmp_path, matrix, full_range, pix_fmt):
    film = Film(n=2, matrix=matrix, full_range=full_range, pix_fmt=pix_fmt, options=SHARP)
    clip = Clip(shoot(tmp_path / "colours.mp4", film))
    assert colours_off(clip.frame(1)) < 6
    assert clip.facts.full_range == full_range
    assert clip.facts.bit_depth == (10 if "10" in pix_fmt else 8)


def test_the_wrong_matrix_or_range_would_show_in_these_colours():
    import colorsys

    # Kr, Kb of ITU-R BT.601-7 and BT.709-6: red coded with one and read with the other moves by more than the limit.
    def coded(rgb, kr, kb):
        r, g, b = np.array(rgb) / 255
        luma = kr * r + (1 - kr - kb) * g + kb * b
        return luma, (b - luma) / (2 - 2 * kb), (r - luma) / (2 - 2 * kr)

    def read(luma, cb, cr, kr, kb):
        r, b = luma + (2 - 2 * kr) * cr, luma + (2 - 2 * kb) * cb
        return np.array([r, (luma - kr * r - kb * b) / (1 - kr - kb), b]) * 255

    red = CORNERS["top_left"]
    assert colorsys.rgb_to_hsv(*red)[1] > 0.5
    assert np.abs(read(*coded(red, 0.299, 0.114), 0.2126, 0.0722) - red).max() > 10


@pytest.mark.parametrize(("size", "matrix"), [((160, 96), "ITU601"), ((1280, 720), "ITU709")])
def test_a_film_without_colour_tags_is_taken_by_its_size(tmp_path, size, matrix):
    film = Film(n=1, size=size, matrix=matrix, untagged=True, options=SHARP)
    assert colours_off(Clip(shoot(tmp_path / "untagged.mp4", film)).frame(0)) < 6


def test_motion_jpeg_uses_the_full_range(tmp_path):
    film = Film(codec="mjpeg", n=2, pix_fmt="yuvj420p", full_range=True, options={"qmin": "1", "qmax": "2"})
    clip = Clip(shoot(tmp_path / "camera.avi", film))
    assert colours_off(clip.frame(1)) < 8
    assert clip.facts.full_range


def woven(first: np.ndarray, second: np.ndarray, top_first: bool) -> np.ndarray:
    image = np.empty_like(first)
    upper, lower = (first, second) if top_first else (second, first)
    image[0::2], image[1::2] = upper[0::2], lower[1::2]
    return image


@pytest.mark.parametrize("order", ["tff", "bff"])
@pytest.mark.parametrize("pix_fmt", ["yuv420p", "yuv422p"])
def test_of_two_woven_fields_the_one_filmed_first_is_kept(tmp_path, order, pix_fmt):
    pictures = [woven(picture(2 * i), picture(2 * i + 1), order == "tff") for i in range(8)]
    options = {"x264-params": f"{order}=1:crf=4:keyint=4"}
    film = Film(rate=Fraction(25), pix_fmt=pix_fmt, options=options)
    clip = Clip(shoot(tmp_path / "woven.mp4", film, pictures))
    assert clip.facts.interlaced
    assert any("Interlaced" in note for note in clip.facts.notes)
    assert clip.size == (160, 96)
    for i in (7, 0, 3):
        image = clip.frame(i)
        assert read_number(image) == 2 * i
        assert colours_off(image) < 12
        # Rows where the two moments differ must follow the first alone.
        rows = slice(72, 76)
        first, second = (picture(2 * i + k)[rows, 40:].astype(int) for k in (0, 1))
        assert np.abs(image[rows, 40:] - first).mean() < np.abs(image[rows, 40:] - second).mean() / 2


def test_the_same_field_gives_the_same_picture_whatever_the_other_shows(tmp_path):
    options = {"x264-params": "tff=1:qp=1:keyint=1"}
    shots = []
    for k, other in enumerate((picture(1), picture(800))):
        path = shoot(tmp_path / f"{k}.mp4", Film(options=options), [woven(picture(5), other, True)])
        shots.append(Clip(path).frame(0).astype(int))
    assert np.abs(shots[0] - shots[1]).mean() < 3


def test_a_jpeg_is_the_picture_scaled_down_and_never_up(tmp_path):
    clip = Clip(shoot(tmp_path / "film.mp4", Film(n=3, options=SHARP)))
    for width, shown in ((None, 160), (80, 80), (4000, 160)):
        data = clip.jpeg(2, width=width)
        image = np.asarray(Image.open(io.BytesIO(data)))
        assert image.shape == (round(96 * shown / 160), shown, 3)
        assert read_number(image) == 2
    assert len(clip.jpeg(2, quality=30)) < len(clip.jpeg(2, quality=95))
    assert clip.jpeg(1) == clip.jpeg(1)


def test_facts_speak_of_the_film_in_plain_words(tmp_path):
    steady = Clip(shoot(tmp_path / "steady.mp4", Film(n=12))).facts
    assert steady.lines()[0] == "12 pictures of 160 x 96, 0.18 seconds."
    assert "60 pictures a second, steady." in steady.notes
    assert any("ask for the original" in n for n in steady.notes)
    ticks = [0, 1500, 3000, 4500, 12000, 13500, 15000, 16500]
    uneven = Clip(shoot(tmp_path / "uneven.mp4", Film(n=8, ticks=ticks))).facts
    assert any("uneven" in n and "1 of the gaps" in n for n in uneven.notes)
    slow = Clip(shoot(tmp_path / "slow.mp4", Film(n=8, rate=Fraction(25)))).facts
    assert any("60 or more serve better" in n for n in slow.notes)
    large = Clip(shoot(tmp_path / "large.mp4", Film(n=2, size=(1280, 720)))).facts
    assert not any("Small picture" in n for n in large.notes)
