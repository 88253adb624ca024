"""Decimal signs: three digits after a sign are decimals only where the file shows it."""

from contextlib import suppress

import pytest
from hypothesis import given as any_of
from hypothesis import strategies as st

from portfolio.domain.errors import InputError
from portfolio.sheets.logger import read_log
from portfolio.sheets.logger_decimals import Decimals
from portfolio.sheets.logger_observations import read_observations
from portfolio.sheets.raw import GivenFile


def log_of(readings: list[str], times: list[str] | None = None) -> GivenFile:
    rows = zip(times or map(str, range(len(readings))), readings, strict=True)
    text = "".join(f"{time};{reading}\n" for time, reading in rows)
    return GivenFile("log.csv", f"Time s;L1 ext main\n{text}".encode())


def readings_in(*readings: str) -> list[float]:
    return read_log(log_of(list(readings))).log.channels[0].readings_c.tolist()


def refused(given: GivenFile, ignition: str = "") -> str:
    with pytest.raises(InputError) as error:
        read_log(given, ignition=ignition)
    return str(error.value)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (("18.5", "1.012"), [18.5, 1.012]),
        (("18,5", "1,012"), [18.5, 1.012]),
        (("18.375", "19.250"), [18.375, 19.25]),  # or an ambient of 18,375 °C
        (("18,375", "1,012"), [18.375, 1.012]),
        (("0.512", "1.012"), [0.512, 1.012]),
        (("1012.375", "1.012"), [1012.375, 1.012]),
        (("18", "18.5"), [18.0, 18.5]),
    ],
)
def test_a_file_that_shows_its_decimal_sign_is_read_by_it(
    readings: tuple[str, ...], expected: list[float]
) -> None:
    assert readings_in(*readings) == expected


@pytest.mark.parametrize("sign", [".", ","])
@pytest.mark.parametrize(
    "others",
    [
        ["18{other}5"],  # the decimal sign is the other one
        ["18{other}5", "18{sign}5"],  # there are two of them
        ["18", "999"],  # whole degrees
        ["18", "32{sign}767"],  # and the end of a range, grouped
        [],
        ["", "---"],
    ],
)
def test_what_may_be_thousands_is_refused_with_its_reason(others: list[str], sign: str) -> None:
    other = "," if sign == "." else "."
    cells = [*(text.format(sign=sign, other=other) for text in others), f"1{sign}012"]
    told = refused(log_of(cells))
    assert f'row {len(cells) + 1}, column "L1 ext main": "1{sign}012"' in told
    assert "three digits after a sign may be thousands" in told


@pytest.mark.parametrize(("sign", "other"), [(".", ","), (",", ".")])
def test_a_time_that_may_be_thousands_is_refused_too(sign: str, other: str) -> None:
    times = ["0", f"1{sign}000"]
    told = refused(log_of([f"18{other}5", "19"], times))
    assert f'column "Time s": "1{sign}000"' in told
    assert "may be thousands" in told
    told = refused(log_of([f"18{other}5", "19"], ["0", "2000"]), ignition=times[1])
    assert "may be thousands" in told


@pytest.mark.parametrize("column", ["From", "Until"])
@pytest.mark.parametrize("text", ["1.200", '"1,200"'])
def test_a_time_of_what_was_seen_that_may_be_thousands_is_refused(text: str, column: str) -> None:
    cells = f"{text}," if column == "From" else f",{text}"
    given = f"Observation,Seen,From,Until\nburn-through,yes,{cells}\n"
    with pytest.raises(InputError, match="may be thousands") as error:
        read_observations(GivenFile("seen.csv", given.encode()))
    assert error.value.problems[0].column == column


decimals = st.integers(0, 1400).flatmap(
    lambda whole: st.text("0123456789", max_size=4).map(lambda rest: (whole, rest))
)


@any_of(st.lists(decimals, min_size=1, max_size=12), st.sampled_from(".,"))
def test_no_number_is_read_as_another_than_its_writer_meant(
    numbers: list[tuple[int, str]], sign: str
) -> None:
    """Written with decimals after one sign and thousands grouped by the other: each is read as it
    was meant, or the file is refused."""
    other = "," if sign == "." else "."
    texts, meant = [], []
    for whole, rest in numbers:
        grouped = f"{whole:,}".replace(",", other)
        texts.append(grouped + (sign + rest if rest else ""))
        meant.append(float(f"{whole}.{rest}0"))
    with suppress(InputError):
        assert readings_in(*texts) == meant


@any_of(st.text(".,+-0123456789eE ", max_size=12), st.sets(st.sampled_from(".,")))
def test_any_text_is_a_number_nothing_or_unclear(text: str, signs: set[str]) -> None:
    with suppress(ValueError):
        found = Decimals(frozenset(signs)).number(text)
        assert found is None or found == float(text.replace(",", "."))
