"""Curves and bars: what they show is what they were given, in the look and with words."""

import io

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from susgeo import SusgeoError
from susgeo.draw import plots
from susgeo.draw.look import ACCENT, INK, OTHER

X = np.linspace(-60, 60, 25)


def colors(still):
    image = Image.open(io.BytesIO(still.data)).convert("RGB")
    assert image.size == (2 * still.width, 2 * still.height)
    return {color for _, color in image.getcolors(100_000)}


def rgb(color):
    return tuple(round(255 * part) for part in to_rgb(color))


def test_curves_are_drawn_each_in_its_look_and_described():
    still = plots.curves(X, {"bar": X**2 / 1900, "Watt": 0 * X}, across="heave [mm]", up="shift [mm]", at=0.0)
    assert {rgb(ACCENT), rgb(OTHER)} <= colors(still)
    assert rgb(INK) not in colors(plots.curves(X, {"one": X}, across="a", up="b"))
    assert still.alt == (
        "Curves of shift [mm] over heave [mm]. "
        "bar: 1.895 at -60, 1.895 at 60; lowest 0 at 0, highest 1.895 at -60. "
        "Watt: 0 at -60, 0 at 60; lowest 0 at -60, highest 0 at -60."
    )
    assert f'alt="{still.alt}"' in still.html()


def test_a_curve_with_gaps_is_described_by_what_is_known():
    line = np.where(X > 0, np.nan, X)
    still = plots.curves(X, {"reach": line}, across="heave [mm]", up="shift [mm]")
    assert "reach: -60 at -60, 0 at 0; lowest -60 at -60, highest 0 at 0." in still.alt
    assert "gone: no value." in plots.curves(X, {"gone": X * np.nan}, across="a", up="b").alt


def test_bars_have_names_numbers_and_a_side():
    still = plots.bars({"upper": 12.34, "lower": -8.06}, unit="mm", title="What one mm does")
    assert still.alt == "What one mm does: upper 12.3 mm; lower -8.1 mm."
    assert {rgb(ACCENT), rgb(OTHER)} <= colors(still)
    assert rgb(OTHER) not in colors(plots.bars({"upper": 12.34}, unit="mm"))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: plots.curves(X, {}, across="a", up="b"), "1 to 4 curves, not 0"),
        (lambda: plots.curves(X, dict.fromkeys("abcde", X), across="a", up="b"), "not 5"),
        (lambda: plots.curves(X, {"short": X[1:]}, across="a", up="b"), "'short' has 24 values for 25 places"),
        (lambda: plots.bars({}, unit="mm"), "at least one number"),
        (lambda: plots.bars({"a": float("inf")}, unit="mm"), "finite"),
    ],
)
def test_errors_say_what_to_do(call, sentence):
    with pytest.raises(SusgeoError, match=sentence):
        call()
