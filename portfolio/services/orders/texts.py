"""An order of one's own as people write it in a form; read in one place, every problem at once."""

from __future__ import annotations

import re
from dataclasses import dataclass

from portfolio.domain.criteria import CRITERIA as ALL
from portfolio.domain.criteria import HEIGHT_BAND
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.own_orders import NUMBERS, OwnOrder, OwnStep, words_of
from portfolio.domain.plain_text import wrong_in_name, wrong_in_text
from portfolio.domain.priorities import CRITERIA
from portfolio.reference.loader import load_reference

LONGEST = {"key": 60, "title": 200, "reason": 5000, "bands": 400}
_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_PLACE = re.compile(r"[1-9][0-9]?", re.ASCII)
_WHOLE = re.compile(r"[1-9][0-9]{0,7}", re.ASCII)
_METRES = re.compile(r"[0-9]{1,3}(?:\.[0-9]{1,3})?", re.ASCII)
_MOST_LIMITS = 20


@dataclass(frozen=True, slots=True)
class StepTexts:
    """One criterion: its place among the steps, empty where it is not looked at, and its bands."""

    criterion: str
    place: str = ""
    bands: str = ""


@dataclass(frozen=True, slots=True)
class OrderTexts:
    """An order as written. Bands of words are parted by "|", worst first, words that count alike
    by a comma; bands of numbers are the least number of each, parted by commas."""

    key: str
    title: str
    reason: str
    steps: tuple[StepTexts, ...]


def read_order(texts: OrderTexts, author: str) -> OwnOrder:
    """The order that the texts tell of. Raises InputError: each problem has the field's name as
    its column, and one of a step its place in the list, from 1, as its row."""
    problems = _of_names(texts)
    placed: dict[int, OwnStep] = {}
    for row, step in enumerate(texts.steps, start=1):
        if not step.place.strip():
            continue
        place = step.place.strip()
        if not _PLACE.fullmatch(place):
            problem = Problem("This is no place.", "1, 2, 3 …, or nothing", row=row, column="place")
            problems.append(problem)
        elif int(place) in placed:
            message = "Two criteria have this place."
            problems.append(Problem(message, "each place once", row=row, column="place"))
        else:
            try:
                placed[int(place)] = _read_step(step)
            except ValueError as error:
                expected = bands_expected(step.criterion)
                problems.append(Problem(str(error), expected, row=row, column="bands"))
    if not placed and not problems:
        message = "No criterion has a place: nothing would be looked at."
        problems.append(Problem(message, "at least one with a place", row=1, column="place"))
    if problems:
        raise InputError(problems)
    steps = tuple(placed[place] for place in sorted(placed))
    return OwnOrder(texts.key, texts.title.strip(), steps, author, texts.reason.strip())


def write_order(order: OwnOrder) -> OrderTexts:
    """The order as a form shows it; `read_order` reads it as the same."""
    places = {step.criterion: (str(at), step) for at, step in enumerate(order.steps, start=1)}
    steps = []
    for criterion in CRITERIA:
        place, step = places.get(criterion, ("", None))
        steps.append(StepTexts(criterion, place, _written(step) if step else ""))
    return OrderTexts(order.key, order.title, order.reason, tuple(steps))


def starting_texts() -> tuple[StepTexts, ...]:
    """The steps of the house order, to begin an order of one's own with."""
    house = load_reference().order
    places = {step.criterion: str(at) for at, step in enumerate(house.steps, start=1)}
    return tuple(StepTexts(criterion, places.get(criterion, "")) for criterion in CRITERIA)


def bands_expected(criterion: str) -> str:
    """How the bands of a criterion are written."""
    if criterion == HEIGHT_BAND:
        return 'the least metres of each band, such as "50, 30, 18, 11"; empty: those'
    if criterion in NUMBERS:
        return 'the least number of each band, such as "500, 100, 20"; empty: more before fewer'
    words = ", ".join(words_of(criterion, load_reference().order))
    return f'each of {words} once, in this order, "|" between bands and "," within one'


def _of_names(texts: OrderTexts) -> list[Problem]:
    found = []
    for name in ("key", "title", "reason"):
        text = getattr(texts, name).strip()
        wrong = (wrong_in_name if name == "key" else wrong_in_text)(text)
        if not text:
            found.append(Problem("This has to be said.", column=name))
        elif wrong or len(text) > LONGEST[name]:
            message = wrong or f"This is longer than {LONGEST[name]} characters."
            found.append(Problem(message, column=name))
    if texts.key and not found and not _KEY.fullmatch(texts.key):
        expected = 'small letters, digits and hyphens, such as "tall-first"'
        found.append(Problem("This is no key.", expected, column="key", value=texts.key))
    if texts.key in load_reference().orders:
        message = "An order that the program ships has this key."
        found.append(Problem(message, "another key", column="key", value=texts.key))
    return found


def _read_step(step: StepTexts) -> OwnStep:
    """Raises ValueError."""
    if step.criterion not in CRITERIA:
        raise ValueError("There is no such criterion.")
    text = step.bands.strip()
    if not text:
        return OwnStep(step.criterion)
    if step.criterion == HEIGHT_BAND:
        return OwnStep(step.criterion, limits=_limits(text, _METRES))
    if step.criterion in NUMBERS:
        return OwnStep(step.criterion, limits=_limits(text, _WHOLE))
    groups = tuple(
        tuple(word.strip() for word in group.split(",") if word.strip())
        for group in text.split("|")
    )
    said = [word for group in groups for word in group]
    if said != list(words_of(step.criterion, load_reference().order)) or not all(groups):
        title = ALL[step.criterion].title.lower()
        raise ValueError(f"These are not the words of {title}, each once and worst first.")
    return OwnStep(step.criterion, groups=groups)


def _limits(text: str, number: re.Pattern[str]) -> tuple[float, ...]:
    parts = [part.strip() for part in text.split(",")]
    if len(parts) > _MOST_LIMITS:
        raise ValueError(f"These are more than {_MOST_LIMITS} bands.")
    if not all(number.fullmatch(part) for part in parts):
        raise ValueError("These are not all numbers.")
    found = sorted((float(part) for part in parts), reverse=True)
    if len(set(found)) < len(found) or found[-1] <= 0:
        raise ValueError("A limit stands twice, or is 0.")
    return tuple(found)


def _written(step: OwnStep) -> str:
    if step.groups:
        return " | ".join(", ".join(group) for group in step.groups)
    return ", ".join(f"{limit:.3f}".rstrip("0").rstrip(".") for limit in step.limits)
