"""The index of water and what a flat window does, against a release, a published table and Snell's law by hand."""

from __future__ import annotations

import numpy as np
import pytest
from source_tables import numbers

from casebook.plane.port import FlatPort
from casebook.plane.refraction import (
    critical_angle_deg,
    refracted_deg,
    refractive_index,
    water_density,
    water_index,
    window_magnification,
)

INDEX = numbers("iapws_1997_index_of_water.csv")
WINDOW = numbers("scubageek_2026_window_magnification.csv")


@pytest.mark.parametrize("row", [r for r in INDEX if np.isfinite(r["density"])])
def test_index_meets_the_values_that_go_with_the_release(row):
    found = refractive_index(row["density"], row["kelvin"], row["wavelength_um"])
    assert found == pytest.approx(row["index"], abs=0.6e-8)


@pytest.mark.parametrize("row", [r for r in INDEX if np.isnan(r["density"])])
def test_index_of_pool_water_at_several_warmths_and_colours(row):
    assert water_index(row["kelvin"] - 273.15, row["wavelength_um"]) == pytest.approx(row["index"], abs=2e-5)


def test_density_of_water():
    # Source: 997.047 kg/m3 at 25 deg C and 999.975 at its densest, 4 deg C (handbook values; the first also stands in
    # the release's test row).
    assert water_density(25.0) == pytest.approx(997.047, abs=0.001)
    assert water_density(np.linspace(0, 10, 101)).max() == pytest.approx(999.975, abs=0.001)


@pytest.mark.parametrize("row", WINDOW)
def test_window_enlarges_as_the_published_table_says(row):
    found = window_magnification(row["object_cm"] / 100, row["eye_cm"] / 100 + 0.008, 1.33)
    # The table's second row is rounded up from 1.3265.
    assert found == pytest.approx(row["magnification"], abs=6e-4)


@pytest.mark.parametrize("row", WINDOW)
def test_camera_behind_a_window_enlarges_the_middle_as_the_published_table_says(row):
    far, behind = row["object_cm"] / 100, row["eye_cm"] / 100 + 0.008
    port = FlatPort(1000.0, np.zeros(2), far, behind_m=behind, glass_m=0.0, water=1.33)
    small = 1e-5
    drawn = port.project([small, 0.0, far + behind])[0]
    assert drawn / (1000.0 * small / (far + behind)) == pytest.approx(row["magnification"], abs=6e-4)


@pytest.mark.parametrize(("air", "water"), [(10, 7.485), (20, 14.867), (30, 22.030), (40, 28.830)])
def test_snell(air, water):
    # Source: sin(air) = 1.333 sin(water), worked out by hand.
    assert refracted_deg(air, 1.0, 1.333) == pytest.approx(water, abs=6e-4)
    assert refracted_deg(water, 1.333, 1.0) == pytest.approx(air, abs=2e-3)


def test_critical_angle():
    # Source: arcsin(1/1.333) = 48.607 deg by hand; textbooks give 48.6 deg.
    assert critical_angle_deg(1.333) == pytest.approx(48.607, abs=5e-4)
    assert np.isnan(refracted_deg(48.7, 1.333, 1.0))
    assert refracted_deg(48.6, 1.333, 1.0) > 88


@pytest.mark.parametrize(("in_air", "in_water"), [(60.0, 44.06), (90.0, 64.07)])
def test_field_of_view_shrinks_under_water(in_air, in_water):
    # Source: half the field by Snell's law, n = 1.333, by hand.
    assert 2 * refracted_deg(in_air / 2, 1.0, 1.333) == pytest.approx(in_water, abs=0.006)
    port = FlatPort.of_field(in_air, (1920, 1080), 4.0, behind_m=0.0, glass_m=0.0, water=1.333)
    rim = np.tan(np.radians(in_water / 2))
    assert port.project([rim, 0.0, 1.0])[0] - port.centre_px[0] == pytest.approx(960.0, rel=3e-4)


@pytest.mark.parametrize(("aside_m", "larger"), [(0.5, 1.338), (1.0, 1.354), (1.5, 1.382), (2.0, 1.425), (3.0, 1.571)])
def test_rim_is_drawn_larger_than_the_middle(aside_m, larger):
    # Source: camera at the window, object plane 5 m away, n = 1.333, ray by ray with Snell's law, by hand.
    port = FlatPort(1000.0, np.zeros(2), 5.0, behind_m=0.0, glass_m=0.0, water=1.333)
    assert port.project([aside_m, 0.0, 5.0])[0] / (1000.0 * aside_m / 5.0) == pytest.approx(larger, abs=6e-4)
