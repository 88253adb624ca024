"""What was seen at a test, as answers: flames above the rig, an early end, burn-through.

Something that nobody wrote about cannot be told: "not seen" must be said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from portfolio.domain.classified import CriterionFinding, StartTime
from portfolio.domain.evidence import Answer3
from portfolio.domain.limits import BurnThroughRule, CriteriaSet, SeenRule
from portfolio.domain.observations import Observation, Sight, joined, of
from portfolio.domain.traces import INTERRUPTED_S, Log, minutes_text

_SECONDS_A_MINUTE = 60


def findings(
    criteria_set: CriteriaSet, observations: Sequence[Observation], begun: StartTime, log: Log
) -> tuple[CriterionFinding, ...]:
    """The answers that hang on what was seen, in the order of the document."""
    ignition = log.ignition_s
    found = []
    if criteria_set.burn_through is not None:
        seen = of(observations, Sight.BURN_THROUGH)
        found.append(_burn_through(criteria_set.burn_through, seen, begun, log))
    flames = of(observations, Sight.FLAMES_ABOVE_RIG)
    found.append(
        _never(
            "flames-above-rig",
            criteria_set.flames_above_rig,
            "no flames above the rig at any time",
            flames,
            ignition,
        )
    )
    found.append(_early_end(criteria_set, of(observations, Sight.EARLY_END), log))
    return tuple(found)


def _never(
    key: str,
    rule: SeenRule,
    threshold: str,
    seen: Sequence[Observation],
    ignition_s: float | None,
) -> CriterionFinding:
    """Something that must not have happened at any time, inside the window or not."""
    happened = sorted(
        (one for one in seen if one.was_seen),
        key=lambda one: (one.from_s is None, one.from_s or 0.0),
    )
    if happened:
        first = happened[0]
        return CriterionFinding(
            key,
            rule.title,
            Answer3.NOT_MET,
            threshold,
            _told(first),
            "seen; at any time is too often",
            rule.basis,
            at_s=_on_the_clock(first.from_s, ignition_s),
        )
    if seen:
        reason = "watched for and not seen"
        return CriterionFinding(
            key, rule.title, Answer3.MET, threshold, "not seen", reason, rule.basis
        )
    reason = "nobody wrote whether it was seen"
    return CriterionFinding(
        key, rule.title, Answer3.UNKNOWN, threshold, "not told", reason, rule.basis
    )


def _early_end(
    criteria_set: CriteriaSet, seen: Sequence[Observation], log: Log
) -> CriterionFinding:
    rule = criteria_set.early_end
    threshold = "the test was not ended early"
    found = _never("early-end", rule, threshold, seen, log.ignition_s)
    if found.answer is Answer3.NOT_MET:
        why = next(one.note for one in seen if one.was_seen)
        return replace(found, reason=f"ended early: {why or 'nobody wrote why'}")
    ran = recorded_for(log)
    if ran is None or log.last_s is None:
        return found
    if found.answer is Answer3.MET and ran < criteria_set.crib_s:
        is_broken_off = log.last_s - (log.ignition_s or 0.0) > ran
        how = "breaks off" if is_broken_off else "ends"
        reason = (
            f"said not to have ended early, but the record {how} {minutes_text(ran)} after "
            f"ignition, before the fire of {criteria_set.crib_s / _SECONDS_A_MINUTE:g} min is over"
        )
        return replace(found, answer=Answer3.UNKNOWN, reason=reason)
    return replace(found, measured=f"{found.measured}; recorded to {minutes_text(ran)}")


def recorded_for(log: Log) -> float | None:
    """For how long from ignition the log was read without a long break; None for not told."""
    until = log.recorded_until_s
    return None if log.ignition_s is None or until is None else until - log.ignition_s


def outside_record(one: Observation, log: Log) -> str:
    """Why the time that is told of something seen cannot be its time, "" where it can.

    A log may be stopped a little before the last thing is seen (ours: as long before as a break
    in it may last).
    """
    times = [at for at in (one.from_s, one.until_s) if at is not None]
    ends = recorded_for(log)
    if times and min(times) < 0:
        return f"{one.sight.words} is told from {minutes_text(min(times))}, before ignition"
    if times and ends is not None and max(times) > ends + INTERRUPTED_S:
        return (
            f"{one.sight.words} is told for {minutes_text(max(times))} after ignition, and the "
            f"record ends or breaks off at {minutes_text(ends)}"
        )
    return ""


def _burn_through(
    rule: BurnThroughRule, seen: Sequence[Observation], begun: StartTime, log: Log
) -> CriterionFinding:
    threshold = (
        f"no flaming of more than {rule.longer_than_s:g} s on the inner face at "
        f"{rule.least_height_m:g} m or more over the opening, starting within "
        f"{rule.window_s / _SECONDS_A_MINUTE:g} min of ts"
    )
    happened = [one for one in seen if one.was_seen]
    low = [one for one in happened if _is_low(rule, one)]
    # lines that follow each other are one flaming, as far as they are high enough to count
    counted = joined(one for one in happened if not _is_low(rule, one))
    answers = [(_burn_through_answer(rule, one, begun, log), one) for one in (*counted, *low)]
    worst = next(
        (
            pair
            for answer in (Answer3.NOT_MET, Answer3.UNKNOWN, Answer3.MET)
            for pair in answers
            if pair[0][0] is answer
        ),
        None,
    )
    if worst is not None:
        (answer, reason), one = worst
        at = _on_the_clock(one.from_s, log.ignition_s)
        return CriterionFinding(
            "burn-through", rule.title, answer, threshold, _told(one), reason, rule.basis, at_s=at
        )
    answer = Answer3.MET if seen else Answer3.UNKNOWN
    told = "not seen" if seen else "not told"
    reason = "watched for and not seen" if seen else "nobody wrote whether it was seen"
    return CriterionFinding("burn-through", rule.title, answer, threshold, told, reason, rule.basis)


def _is_low(rule: BurnThroughRule, one: Observation) -> bool:
    return one.height_m is not None and one.height_m < rule.least_height_m


def _burn_through_answer(
    rule: BurnThroughRule, one: Observation, begun: StartTime, log: Log
) -> tuple[Answer3, str]:
    """What one sight of it comes to. What is not told counts as if it were the worst, and what
    is told for a time that the record does not hold clears nothing."""
    answer, reason = _burn_through_as_told(rule, one, begun, log.ignition_s)
    wrong = outside_record(one, log)
    return (Answer3.UNKNOWN, wrong) if wrong and answer is Answer3.MET else (answer, reason)


def _burn_through_as_told(
    rule: BurnThroughRule, one: Observation, begun: StartTime, ignition_s: float | None
) -> tuple[Answer3, str]:
    if _is_low(rule, one):
        return Answer3.MET, f"seen only {one.height_m:g} m over the opening"
    lasted = None if one.from_s is None or one.until_s is None else one.until_s - one.from_s
    if lasted is not None and lasted <= rule.longer_than_s:
        return Answer3.MET, f"it lasted {lasted:g} s"
    began = _within(rule, _on_the_clock(one.from_s, ignition_s), begun)
    if began[0] is Answer3.NOT_MET and lasted is None:
        return Answer3.UNKNOWN, "how long it lasted is not told"
    return began


def _within(rule: BurnThroughRule, at_s: float | None, begun: StartTime) -> tuple[Answer3, str]:
    """Whether something long and high enough began within the window."""
    if at_s is None:
        return Answer3.UNKNOWN, "when it began is not told"
    if at_s > begun.latest_s + rule.window_s:
        return Answer3.MET, "it began after the window"
    if at_s > begun.earliest_s + rule.window_s:
        return Answer3.UNKNOWN, "whether it began within the window cannot be told"
    return Answer3.NOT_MET, "it began within the window and lasted longer"


def _on_the_clock(from_s: float | None, ignition_s: float | None) -> float | None:
    return None if from_s is None or ignition_s is None else ignition_s + from_s


def _told(one: Observation) -> str:
    """What was written of it."""
    parts = ["seen"]
    parts += [f"from {minutes_text(one.from_s)} after ignition"] if one.from_s is not None else []
    parts += [f"until {minutes_text(one.until_s)}"] if one.until_s is not None else []
    parts += [f"at {one.height_m:g} m"] if one.height_m is not None else []
    return " ".join(parts) + (f": {one.note}" if one.note else "")
