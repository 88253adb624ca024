"""What no rule of an engineer may say: amounts that nobody builds, and worse walls as equals.

House bounds of this project, not limits of any standard: they keep out slips and nonsense.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import permutations

from portfolio.domain import reaction
from portfolio.domain.onerous import CategoryOrder, NumberOrder, Orders
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rules import OF_NUMBERS, ApplicationRule, RuleKind
from portfolio.domain.values import OneOf

MOST: Mapping[str, float] = {"mm": 10_000.0, "m": 10.0, "MJ/kg": 50.0}
"""By unit, the largest amount of a rule: ten metres is more than a layer, a joint or the spacing
of barriers differs by, and 50 MJ/kg is above what a core of polyethylene gives (common practice,
no source)."""
NOT_FOR_A_RULE = (
    "the wall would burn worse than what was tested: that is for an engineer to rule on zone by "
    "zone, not for a rule"
)


def worse_and_milder(
    parameter: str, words: Collection[str], orders: Orders, families: Mapping[str, str]
) -> tuple[str, str] | None:
    """Two of the words of which the first is known to be strictly more onerous; None where no two
    are. A list of equals with such a pair lets the worse wall lean on a test of the milder one.

    `families` are those of insulation materials.
    """
    if PARAMETERS[parameter].attribute.category == "fire-class":
        pairs = permutations(sorted(words), 2)
        return next((pair for pair in pairs if _is_worse_class(*pair)), None)
    order = _order_of(parameter, orders)
    if order is None:
        return None
    told = {word: families.get(word, word) for word in words}
    if order is not orders.insulation:
        told = {word: word for word in words}
    for worse, milder in permutations(sorted(told), 2):
        if order.strictly_milder(_one(told[milder]), _one(told[worse])):
            return worse, milder
    return None


def most_worse(kind: RuleKind, parameter: str, orders: Orders) -> float | None:
    """By how much a wall may at most be worse than tested, in the parameter's unit, where a rule of
    this kind lets it be worse at all: what two measurements of one thing may differ by. None where
    nobody knows which side is worse, or where the rule allows only the milder one."""
    if kind not in (RuleKind.WITHIN, RuleKind.NOT_LESS):
        return None
    found = (order for order in orders.others if parameter in order.parameters)
    return next((order.margin for order in found if isinstance(order, NumberOrder)), None)


def _is_worse_class(name: str, than: str) -> bool:
    """Of a worse main class, whatever is better of it in smoke or droplets, which say nothing of
    spread; or of the same one and worse in these."""
    worse, better = (
        reaction.at_least_in_main_class(*pair) for pair in ((name, than), (than, name))
    )
    if worse and better:
        strictly = not reaction.at_least_as_onerous(than, name)
        return strictly and reaction.at_least_as_onerous(name, than)
    return worse


def _one(key: str) -> OneOf:
    return OneOf(frozenset({key}))


def _order_of(parameter: str, orders: Orders) -> CategoryOrder | None:
    ordered = (orders.insulation, orders.core, *orders.others)
    found = (order for order in ordered if parameter in order.parameters)
    return next((order for order in found if isinstance(order, CategoryOrder)), None)


def cautions(rule: ApplicationRule) -> tuple[str, ...]:
    """What a reader is to be told before leaning on a rule; empty where there is nothing."""
    found = []
    if decisive := [key for key in rule.parameters if PARAMETERS[key].is_decisive]:
        titles = ", ".join(PARAMETERS[key].title for key in decisive)
        found.append(
            f"This rule speaks of a decisive parameter ({titles}): it decides of which materials a "
            "test may cover the wall."
        )
    if rule.kind in OF_NUMBERS and rule.amount is None:
        less = rule.kind is RuleKind.NOT_MORE
        side = "less than tested, down to nothing" if less else "more than tested, however much"
        found.append(f"This rule has no amount, and so no limit: it allows {side}.")
    return tuple(found)
