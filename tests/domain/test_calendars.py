"""Calendars are checked against the grammar of RFC 5545, read back by a reader of our own."""

import re
from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.calendars import CalendarEvent, calendar_text, escaped

NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
# RFC 5545, 3.1: name *(";" param) ":" value, of characters that are no controls but HTAB
_SAFE = r"[^\x00-\x08\x0a-\x1f\x7f]"
_PARAM = r";[A-Z-]+=[^\";:,\x00-\x08\x0a-\x1f\x7f]+"
_LINE = re.compile(rf"([A-Z][A-Z0-9-]*)((?:{_PARAM})*):({_SAFE}*)")
# 3.3.11: TSAFE-CHAR, ":", DQUOTE, and ESCAPED-CHAR
_TEXT = re.compile(r"(?:[^\\;,\x00-\x08\x0a-\x1f\x7f]|\\[\\;,Nn])*")


def _lines_of(text: str) -> list[tuple[str, str, str]]:
    """The content lines, unfolded (3.1), as name, parameters and value."""
    assert text.endswith("\r\n")
    parts = text[:-2].split("\r\n")
    assert all(len(part.encode()) <= 75 for part in parts)
    assert not any("\n" in part or "\r" in part for part in parts)
    found = []
    for line in "\r\n".join(parts).replace("\r\n ", "").split("\r\n"):
        matched = _LINE.fullmatch(line)
        assert matched, line
        found.append((matched[1], matched[2], matched[3]))
    return found


def _unescaped(value: str) -> str:
    assert _TEXT.fullmatch(value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "Nn" else m[1], value)


def test_an_event_has_what_the_grammar_asks_for_once() -> None:
    event = CalendarEvent("uid-1", date(2026, 12, 31), "Own deadline: B-01", "one; two, three")
    told = _lines_of(calendar_text("Works", [event], NOW))
    names = [name for name, _, _ in told]
    assert names[0:3] == ["BEGIN", "VERSION", "PRODID"]
    assert (told[0][2], told[1][2], told[-1]) == ("VCALENDAR", "2.0", ("END", "", "VCALENDAR"))
    # 3.6.1: UID and DTSTAMP are required, each once
    assert names.count("UID") == names.count("DTSTAMP") == 1
    values = {name: (more, value) for name, more, value in told}
    assert values["DTSTAMP"] == ("", "20260301T123000Z")
    assert values["DTSTART"] == (";VALUE=DATE", "20261231")
    # the end of a day is the next one, over the year's too
    assert values["DTEND"] == (";VALUE=DATE", "20270101")
    assert _unescaped(values["DESCRIPTION"][1]) == "one; two, three"


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)


@given(texts, texts)
def test_whatever_a_text_holds_it_is_read_back(summary: str, description: str) -> None:
    event = CalendarEvent("u", date(2026, 1, 1), summary, description)
    told = _lines_of(calendar_text("Works", [event], NOW))
    assert [v for n, _, v in told if n == "BEGIN"] == ["VCALENDAR", "VEVENT"]
    plain = re.sub(r"\r\n?", "\n", summary)
    plain = re.sub(r"[\x00-\x09\x0b-\x1f\x7f]", "", plain)
    [found] = [value for name, _, value in told if name == "SUMMARY"]
    assert _unescaped(found) == plain


def test_a_text_cannot_add_a_line_of_its_own() -> None:
    assert "\r\nATTENDEE" not in calendar_text(
        "Works", [CalendarEvent("u", date(2026, 1, 1), "x\r\nATTENDEE:mailto:a@b")], NOW
    )
    assert escaped("a\tb\x00c") == "abc"


def test_a_calendar_without_events_is_one() -> None:
    assert [name for name, _, _ in _lines_of(calendar_text("Works", [], NOW))][-1] == "END"
