"""The chart and the rig of a classified log, against the function that invented the log."""

import numpy as np
import pytest

from portfolio.domain.observations import Observation, Sight
from portfolio.drawings.text import clean
from portfolio.services.classified_drawings import (
    chart_drawings,
    rig_drawing,
    rise_at,
    telling_minute,
)
from portfolio.services.classifying import ClassifiedLog
from tests.domain.invented_log import NOTHING_SEEN, classified, make_log, ramp, with_readings
from tests.drawings.support import SVG, parsed

SEEN = (*NOTHING_SEEN, Observation(Sight.POOL_FIRE, was_seen=True, from_s=750.0))


def a_log(step: float = 5.0) -> ClassifiedLog:
    """Level 2 main rises by half a kelvin a second to 1,000 s; the rest is quiet."""
    log = make_log({"L2 main": lambda t: ramp(0.5)(t.clip(max=1000.0))}, step=step, until=1800.0)
    return ClassifiedLog("log.csv", log, classified(log, SEEN), ())


def words(svg: str) -> set[str]:
    return {clean(line.text or "") for line in parsed(svg).iter(f"{SVG}tspan")}


def test_each_level_and_side_has_a_chart_with_its_limit_and_ts() -> None:
    charts = chart_drawings(a_log())
    assert [parsed(svg).findtext(f"{SVG}title") for svg in charts] == [
        "Temperatures: Level 1, external",
        "Temperatures: Level 2, external",
        "Temperatures: Level 2, internal",
        "Temperatures: Level 3, external",
    ]
    assert "limit: 200 K over Ts = 218.0 °C" in words(charts[0])
    assert {"limit: 600 K over Ts = 618.0 °C", "ts 1:40", "pool fire 12:30"} <= words(charts[1])
    assert not [text for text in words(charts[3]) if "over Ts" in text]


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0.0, 0.0), (600.0, 300.0), (602.0, 300.0), (1000.0, 500.0), (-400.0, None), (1816.0, None)],
)
def test_the_rig_shows_the_last_rise_that_was_read(seconds: float, expected: float | None) -> None:
    found = a_log()
    (channel,) = [c for c in found.log.channels if c.name == "L2 main"]
    assert rise_at(found, channel, seconds) == expected


def test_in_a_gap_the_rig_shows_no_reading() -> None:
    # the log's clock is 300 s ahead of ignition: nothing was read from 600 to 700 s after it
    log = with_readings(
        a_log().log, "L2 main", lambda t, c: np.where((t >= 900) & (t <= 1000), np.nan, c)
    )
    found = ClassifiedLog("log.csv", log, classified(log, SEEN), ())
    (channel,) = [c for c in log.channels if c.name == "L2 main"]
    assert (rise_at(found, channel, 609.0), rise_at(found, channel, 640.0)) == (297.5, None)


def test_the_rig_names_levels_with_their_heights_and_the_moment() -> None:
    # heights above the opening: 2.5, 5.0 and, in 2020, 7.5 m (secondary)
    lines = parsed(rig_drawing(a_log(), 10.0)).iter(f"{SVG}tspan")
    shown = " ".join(clean(line.text or "") for line in lines)
    for text in (
        "Rises 10:00 after ignition",
        "level 1, 2.5 m above the opening",
        "level 2, 5 m above the opening",
        "level 3, 7.5 m above the opening",
        "300",
    ):
        assert text in shown


def test_the_rig_is_first_shown_when_level_2_was_hottest() -> None:
    assert telling_minute(a_log().found) == pytest.approx(1000 / 60, abs=0.001)
