"""What a wall section is drawn from: layers from the inside out, and the barriers across."""

import math
from dataclasses import dataclass

from portfolio.drawings.amounts import amount_text
from portfolio.drawings.marks import answer_mark, kind_mark


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """One layer of a wall.

    `thickness_mm` is None where nobody knows it. `is_known` is False where the material itself
    is not known, `present` False where the layer is known not to be there. `answer` is one of
    the marks' answers, or None where nothing was compared. Layers of two walls with the same
    `key` stand for each other; without one, the role is the key.
    """

    role: str
    label: str
    thickness_mm: float | None
    kind: str
    answer: str | None = None
    note: str = ""
    is_known: bool = True
    present: bool = True
    key: str = ""

    def __post_init__(self) -> None:
        kind_mark(self.kind)
        _check_answer(self.answer)
        thickness = self.thickness_mm
        if thickness is not None and not (math.isfinite(thickness) and thickness >= 0):
            raise ValueError(
                f'Layer "{self.label or self.role}": a thickness of {thickness} mm cannot be '
                "drawn; give millimetres of 0 or more, or None where it is not known."
            )

    @property
    def pairing_key(self) -> str:
        """What a layer of another wall must share to stand for this one."""
        return self.key or self.role

    @property
    def drawn_kind(self) -> str:
        """The kind to hatch: an unknown material is never drawn as what it might be."""
        return self.kind if self.is_known else "unknown"

    @property
    def words(self) -> str:
        """The layer in words, with its thickness in millimetres."""
        if not self.present:
            return f"no {self.role or self.label}"
        if self.thickness_mm is None:
            thickness = "thickness unknown"
        else:
            thickness = amount_text(self.thickness_mm, "mm")
        material = self.label or self.role or "layer"
        if not self.is_known:
            material += " (material not known)"
        return f"{material}, {thickness}"


@dataclass(frozen=True, slots=True)
class DrawnBarrier:
    """A barrier across the cavity; `known` is False where nobody knows whether it is there."""

    label: str
    answer: str | None = None
    known: bool = True
    note: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        _check_answer(self.answer)

    @property
    def pairing_key(self) -> str:
        """What a barrier of another wall must share to stand for this one."""
        return self.key or self.label

    @property
    def words(self) -> str:
        """The barrier in words."""
        label = self.label or "cavity barrier"
        return label if self.known else f"{label} (not known whether there)"


@dataclass(frozen=True, slots=True)
class SectionDrawing:
    """One wall: its name for the heading, and a short word (`side`) for legends of two walls."""

    name: str
    layers: tuple[DrawnLayer, ...]
    barriers: tuple[DrawnBarrier, ...] = ()
    side: str = ""

    @property
    def short_name(self) -> str:
        """The word that tells this wall from the other in a legend."""
        return self.side or self.name


def _check_answer(answer: str | None) -> None:
    if answer is not None:
        answer_mark(answer)
