"""The tones can be read in light and dark, by people with any colour vision."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from casebook.pages.palette import DARK, LIGHT, PICTURE, Tones, css_variables, rgb


def luminance(tone: str) -> float:
    """Relative luminance. Source: W3C, WCAG 2.2, definition of relative luminance."""
    return float(linear(tone) @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(a: str, b: str) -> float:
    """Contrast ratio. Source: W3C, WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def linear(tone: str) -> np.ndarray:
    v = np.array(rgb(tone)) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


#: Dichromacy on linear RGB. Source: Machado, Oliveira, Fernandes 2009, IEEE TVCG 15(6), doi:10.1109/TVCG.2009.113,
#: severity 1.0.
DICHROMACY = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
    "full": np.eye(3).tolist(),
}


def lab(rgb_linear: np.ndarray) -> np.ndarray:
    """CIELAB under D65 from linear sRGB. Source: IEC 61966-2-1 matrix; CIE 1976 L*a*b*."""
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    t = matrix @ np.clip(rgb_linear, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(a: str, b: str, vision: str) -> float:
    matrix = np.array(DICHROMACY[vision])
    return float(np.linalg.norm(lab(matrix @ linear(a)) - lab(matrix @ linear(b))))


def test_the_contrast_formula_gives_21_for_black_on_white() -> None:
    # WCAG 2.2 states the range 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("word", ["ink", "soft", "sea", "warm", "edge"])
@pytest.mark.parametrize("ground", ["paper", "raised"])
def test_every_tone_that_sets_words_meets_the_contrast_for_small_text(tones: Tones, word: str, ground: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1.
    assert contrast(getattr(tones, word), getattr(tones, ground)) >= 4.5


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
def test_what_lies_on_a_band_can_be_seen_on_it(tones: Tones) -> None:
    # WCAG 2.2, success criterion 1.4.11: 3 to 1 for graphics; the band itself is bounded by its edge.
    for tone in (tones.ink, tones.soft, tones.sea, tones.edge):
        assert contrast(tone, tones.target) >= 3.0
    assert contrast(tones.edge, tones.paper) >= 3.0


@pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("vision", list(DICHROMACY))
def test_left_right_and_ink_differ_for_any_colour_vision(tones: Tones, vision: str) -> None:
    # A difference of 2.3 is just noticeable (Mahy and others 1994); ten of those: common practice, no source.
    for a, b in combinations(("sea", "warm", "ink"), 2):
        assert apart(getattr(tones, a), getattr(tones, b), vision) > 20


@pytest.mark.parametrize("vision", list(DICHROMACY))
def test_the_measured_stroke_differs_from_the_body_line_and_both_from_their_edge(vision: str) -> None:
    assert apart(PICTURE.measure, PICTURE.line, vision) > 20
    assert contrast(PICTURE.line, PICTURE.dark) > 4.5
    assert contrast(PICTURE.measure, PICTURE.dark) > 4.5


def test_both_dresses_set_every_variable() -> None:
    names = [[part.split(":")[0] for part in css_variables(t).split(";")] for t in (LIGHT, DARK)]
    assert names[0] == names[1]
