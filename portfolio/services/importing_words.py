"""Walls and heights in words, for showing and logging what an import changes."""

from __future__ import annotations

from portfolio.domain.heights import HeightClaim
from portfolio.domain.measures import write_value
from portfolio.domain.parameters import ROLE_ATTRIBUTES, WALL_ATTRIBUTES
from portfolio.domain.vocabulary import Vocabulary
from portfolio.domain.walls import BuildUp, Layer

_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}


def height_words(claim: HeightClaim) -> str:
    """One claim in a line, with all that it says."""
    tolerance = "" if claim.tolerance_m is None else f" ± {claim.tolerance_m:g} m"
    day = "" if claim.on is None else claim.on.isoformat()
    more = ", ".join(part for part in (claim.method, day, claim.source) if part)
    return f"{claim.metres:g} m{tolerance}" + (f" ({more})" if more else "")


def wall_words(build_up: BuildUp, vocabulary: Vocabulary) -> dict[str, object]:
    """What a build-up says of the whole wall, by column."""
    return {
        "system_family": write_value(_WALL["system_family"], build_up.system_family, vocabulary),
        "substrate": write_value(_WALL["substrate"], build_up.substrate, vocabulary),
        "all_layers_listed": build_up.lists_all_layers,
    }


def layer_words(build_up: BuildUp, vocabulary: Vocabulary) -> list[str]:
    """The layers from the inside out, a line each, with all that is known of them."""
    return [_layer(layer, vocabulary) for layer in build_up.layers]


def _layer(layer: Layer, vocabulary: Vocabulary) -> str:
    parts = []
    for attribute in ROLE_ATTRIBUTES[layer.role]:
        text = write_value(attribute, layer.value(attribute.key), vocabulary)
        if text:
            parts.append(f"{attribute.title} {text} {attribute.unit}".rstrip())
    if layer.note:
        parts.append(f"note: {layer.note}")
    return f"{layer.role.value}: {', '.join(parts) or 'unknown'}"
