"""Claims of a height and thresholds on one scale."""

import pytest

from portfolio.drawings.heights import DrawnClaim, HeightsDrawing, heights_chart
from tests.drawings.support import SVG, parsed

DRAWING = HeightsDrawing(
    "Heights of a block",
    (DrawnClaim("laser", 17.6, 17.8), DrawnClaim("six storeys", 15.0, 20.0, is_estimate=True)),
    (18.0, 11.0, 18.0),
)


def test_claims_and_thresholds_are_to_one_scale() -> None:
    root = parsed(heights_chart(DRAWING, id_prefix="a", width=640))
    laser, estimate = (r for r in root.iter(f"{SVG}rect") if r.get("class") == "bar")
    lines = [line for line in root.iter(f"{SVG}line") if line.get("class") == "height-line"]
    low, high = sorted({float(line.get("x1", "nan")) for line in lines})
    assert len(lines) == 4
    metre = (high - low) / (18.0 - 11.0)
    assert float(estimate.get("width", "nan")) == pytest.approx(5.0 * metre, abs=0.1)
    assert float(laser.get("x", "nan")) == pytest.approx(high - 0.4 * metre, abs=0.1)


def test_an_estimate_is_dashed_and_a_measurement_is_not() -> None:
    root = parsed(heights_chart(DRAWING, id_prefix="a"))
    laser, estimate = (r for r in root.iter(f"{SVG}rect") if r.get("class") == "bar")
    assert laser.get("stroke-dasharray") is None
    assert estimate.get("stroke-dasharray")


def test_what_is_drawn_is_also_told() -> None:
    told = parsed(heights_chart(DRAWING, id_prefix="a")).findtext(f"{SVG}desc") or ""
    assert "laser: 17.6 m to 17.8 m." in told
    assert "Thresholds: 11 m, 18 m." in told
