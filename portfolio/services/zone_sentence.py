"""One plain sentence on a zone: why it is covered, or why it is not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Outcome, Standing
from portfolio.domain.nearest import Verdict
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.surveys import Basis, Wall
from portfolio.services.explaining import Explanation, TestComparison

_MOST_NAMED = 3
_ONLY = {
    Basis.DRAWING: "has only been seen on a drawing",
    Basis.OUTSIDE: "has only been looked at from outside",
    Basis.CERTIFICATE: "has only been read in a maker's certificate",
    Basis.ASSUMPTION: "is only assumed",
}


def sentence_for(found: Explanation) -> str:
    """Why the zone has the coverage it has; a second sentence where surveys disagree."""
    told = _BY_COVERAGE[found.coverage.coverage](found)
    conflicts = found.coverage.conflicts
    if conflicts:
        told += (
            f" Surveys of equal strength disagree on {_listed(conflicts)}: until a named person "
            "settles it, nothing covers this wall."
        )
    if since := [key for key, fact in found.wall.facts.items() if fact.said_since]:
        told += (
            f" A weaker source that is later says otherwise of {_listed(since)}: make sure that "
            "the wall has not been changed."
        )
    return told


def _covered(found: Explanation) -> str:
    tests = [c for c in found.comparisons if c.verdict == "covers"]
    nearest = tests[0]
    allowed = nearest.counted("allowed")
    how = "is the same as tested" if not allowed else "is the same as tested, or within a rule"
    more = f", and {_tests(tests[1:])} would too" if tests[1:] else ""
    held = f" (recorded by {nearest.test.holder})" if nearest.test.holder else ""
    told = f"Covered: every parameter of this wall {how} in {_tests([nearest])}{held}{more}."
    if own := tuple(dict.fromkeys(row.own_rule for row in nearest.rows if row.own_rule)):
        told += f" It leans on {_rules(own)}."
    return told


def _rules(names: Sequence[str]) -> str:
    """Engineers' rules by name: a named person answers for each."""
    kind = "the engineer's rule" if len(names) == 1 else "the engineers' rules"
    return f"{kind} {'; '.join(names)}"


def _contradicted(found: Explanation) -> str:
    against = _refs(found.coverage.against)
    failed = "which failed" if len(found.coverage.against) == 1 else "which all failed"
    if found.coverage.by_inference:
        told = (
            f"Contradicted by inference: whatever is unknown of this wall, it is at least as "
            f"onerous as {against}, {failed}. No wall just like it was tested."
        )
    else:
        told = (
            f"Contradicted: {against}, {failed}, had the same decisive materials, and nothing "
            "known makes this wall milder."
        )
    if found.coverage.covered_too:
        told += " A passing test covers it as well; the failing one outranks it."
    return told


def _to_assess(found: Explanation) -> str:
    nearest = _nearest(found)
    differs = [row.parameter for row in nearest.rows if row.answer == "differs"]
    return (
        f"Not covered: it differs from the nearest passing test {nearest.test.ref} in "
        f"{_things(len(differs))} that an engineer may judge: {_listed(differs)}."
    )


def _too_little(found: Explanation) -> str:
    if not found.surveys:
        return "Not covered: nobody has surveyed this zone yet, so nothing is known of its wall."
    if found.coverage.doubts:
        return _in_doubt(found)
    unknown = found.coverage.unknown_decisive
    if not found.coverage.nearest or _nearest(found).verdict == "apart":
        if not unknown:
            return "Not covered: too little is settled to say which test would be relevant."
        return (
            f"Not covered: {_listed(unknown)} must be known before anyone can say which test "
            "would be relevant."
        )
    nearest = _nearest(found)
    rows = [row for row in nearest.rows if row.answer == "unknown"]
    told = f"Not covered: the nearest passing test {nearest.test.ref}"
    if rows:
        told += f" leaves {_things(len(rows))} unknown{_weakest(found.wall, nearest)}"
    if differs := nearest.counted("differs"):
        told += f"{', and' if rows else ''} differs in {_things(differs)} to be judged"
    gates = [gate.reason for gate in nearest.gates if gate.answer == "unknown"]
    if gates:
        joint = (
            "; nor is it sure that the test may be used: "
            if rows or differs
            else (" may not be usable: ")
        )
        told += joint + "; ".join(gates)
    return told + "."


def _in_doubt(found: Explanation) -> str:
    told = f"Not covered: {'; '.join(_doubts(found))}."
    covering = [v.test for v in found.coverage.nearest if v.verdict is Verdict.COVERS]
    if covering:
        told += f" Without that doubt, {_refs(covering)} would cover it."
    return told


def _doubts(found: Explanation) -> Iterator[str]:
    """Why the tests in doubt are: what is not recorded, an outcome not told, or a withdrawal."""
    told = {c.test.ref: c for c in found.comparisons}
    doubts = [ref for ref in found.coverage.doubts if ref in told]
    untold = [ref for ref in doubts if told[ref].outcome is Outcome.NOT_TOLD]
    failed = [ref for ref in doubts if ref not in untold]
    undone = [ref for ref in failed if told[ref].test.standing is Standing.WITHDRAWN]
    if loose := [ref for ref in failed if ref not in undone]:
        them = "it" if len(loose) == 1 else "them"
        yield (
            f"{_refs(loose)} failed, and what nobody recorded of {them}, or of this zone, leaves "
            "open that the wall that failed was this one or a milder one"
        )
    if undone:
        was = "was" if len(undone) == 1 else "were"
        yield (
            f"{_refs(undone)} failed and {was} withdrawn since, which does not show that a wall "
            "like this one would not fail"
        )
    if untold:
        yield (
            f"nobody tells what came of {_refs(untold)}, whose wall could have been this one or a "
            "milder one: it may have failed"
        )


def _none(found: Explanation) -> str:
    if found.gathered.setting.is_attachment:
        return (
            "Not covered: this is attached to the wall, and the tests here are of walls: none of "
            "them shows how it behaves."
        )
    if not found.coverage.nearest:
        return "Not covered: there is no passing test that may be used here at all."
    nearest = _nearest(found)
    decisive = [r.parameter for r in nearest.rows if r.answer == "differs" and r.is_decisive]
    return (
        f"Not covered: no test that may be used has this wall's decisive layers; the nearest, "
        f"{nearest.test.ref}, differs in {_listed(decisive)}."
    )


_BY_COVERAGE = {
    Coverage.COVERED: _covered,
    Coverage.CONTRADICTED: _contradicted,
    Coverage.TO_ASSESS: _to_assess,
    Coverage.TOO_LITTLE_KNOWN: _too_little,
    Coverage.NO_MATCHING_EVIDENCE: _none,
}


def _nearest(found: Explanation) -> TestComparison:
    ref = found.coverage.nearest[0].test
    return next(c for c in found.comparisons if c.test.ref == ref)


def _weakest(wall: Wall, nearest: TestComparison) -> str:
    """The first of the unknowns that somebody did see, but not well enough."""
    weak = [row for row in nearest.rows if row.too_weak]
    weak.sort(key=lambda row: not row.is_decisive)
    for row in weak:
        fact = wall.facts[row.parameter]
        if fact.claim.survey.basis in _ONLY:
            return f", of which the {_plain(row.parameter)} {_ONLY[fact.claim.survey.basis]}"
    return ""


def _listed(parameters: Sequence[str]) -> str:
    titles = [_plain(key) for key in parameters[:_MOST_NAMED]]
    if more := len(parameters) - len(titles):
        return f"{', '.join(titles)} and {more} more"
    return _joined(titles)


def _plain(parameter: str) -> str:
    """The title as it reads within a sentence: "insulation material"."""
    return PARAMETERS[parameter].title.replace(": ", " ")


def _joined(words: Sequence[str]) -> str:
    if len(words) < 2:  # noqa: PLR2004 - nothing to join
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _tests(tests: Sequence[TestComparison]) -> str:
    return _refs([comparison.test.ref for comparison in tests])


def _refs(refs: Sequence[str]) -> str:
    return f"{'test' if len(refs) == 1 else 'tests'} {_joined(refs)}"


def _things(count: int) -> str:
    return "1 thing" if count == 1 else f"{count} things"
