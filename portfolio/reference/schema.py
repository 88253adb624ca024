"""The shape of the reference files: strict, so that a missing source or a stray key is refused."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Status = Literal["published", "secondary", "common practice", "from memory", "house"]

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]


class Strict(BaseModel):
    """No unknown keys, no coercion."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class Sourced(Strict):
    """An entry that says where it comes from, how sure that is, and from when it counts."""

    source: str = Field(min_length=10)
    status: Status
    effective_from: date
    effective_to: date | None = None


class TermEntry(Strict):
    key: str
    label: str
    family: str = ""
    section: str = "other"
    members: list[str] = []
    aliases: list[str] = []


class CategoryFile(Sourced):
    key: str
    title: str
    terms: list[TermEntry] = Field(min_length=1)


class RuleVersion(Sourced):
    amount: float = Field(ge=0, allow_inf_nan=False)
    share: float | None = Field(default=None, gt=0, le=1)


class RuleExample(Strict):
    parameter: str
    on: date
    zone: float
    tested: float
    expect: Literal["same", "allowed", "differs", "unknown"]


class RuleFile(Strict):
    id: str
    title: str
    parameters: list[str] = Field(min_length=1)
    unit: str
    versions: list[RuleVersion] = Field(min_length=1)
    examples: list[RuleExample] = Field(min_length=1)


class OrderFile(Sourced):
    """How onerous: single steps between categories, a measure of which more is worse, or classes.

    One that does not acquit says why: a wall that is milder by it is none the milder than a failing
    test.
    """

    key: str
    parameters: list[str] = Field(min_length=1)
    steps: list[Annotated[tuple[str, str], Field(strict=False)]] = []
    more_is: Literal["more onerous", ""] = ""
    by: Literal["reaction-to-fire class", ""] = ""
    margin: float = Field(default=0.0, ge=0, allow_inf_nan=False)
    margin_source: str = ""
    acquits: bool = True
    why: str = ""


class NoMilderSide(Sourced):
    """Parameters of which nobody can say which side is milder, and why."""

    key: str
    parameters: list[str] = Field(min_length=1)
    why: str = Field(min_length=10)


class NoMilderSideFile(Strict):
    entries: list[NoMilderSide]


class TableRowEntry(Strict):
    """One row of a published table: limits that a building reaches together."""

    value: str
    says: str = Field(min_length=10)
    from_m: Positive | None = None
    above_m: Positive | None = None
    homes: int | None = Field(default=None, ge=1)
    homes_in_reach: int | None = Field(default=None, ge=1)
    not_sprinklered: bool = False
    metal_composite: bool = False


class StepEntry(Strict):
    criterion: str
    title: str
    values: list[str]
    labels: list[str]
    rows: list[TableRowEntry] = []


class BandEntry(Strict):
    key: str
    label: str
    from_m: float


class GapOrderFile(Sourced):
    key: str
    title: str
    version: str
    note: str
    steps: list[StepEntry] = Field(min_length=1)
    bands: list[BandEntry] = []
    #: "house": the steps of the house order follow, and its bands
    then: Literal["house", ""] = ""


class UseEntry(Strict):
    key: str
    label: str
    sleeping: Literal["needs-help", "sleeping", "not-sleeping"]


class OccupancyFile(Sourced):
    key: str
    title: str
    uses: list[UseEntry]


class ConditionEntry(Strict):
    measure: Literal["floor", "storeys", "roof", "homes", "not stated"]
    operator: Literal["at least", "more than", "not stated"]
    value: float = Field(gt=0, allow_inf_nan=False)


class ConditionGroupEntry(Strict):
    conditions: list[ConditionEntry] = Field(min_length=1)
    joined: Literal["or", "not stated"] = "or"


class ThresholdEntry(Sourced):
    """`start_is_known` is false where `effective_from` is only the day of recording it here."""

    key: str = Field(pattern="^[a-z0-9-]+$")
    triggers: str = Field(min_length=1)
    start_is_known: bool
    groups: list[ConditionGroupEntry] = Field(min_length=1)
    note: str = ""


class ThresholdsFile(Strict):
    """The height thresholds of one jurisdiction."""

    key: str
    jurisdiction: str = Field(min_length=1)
    thresholds: list[ThresholdEntry] = Field(min_length=1)


class PairEntry(Strict):
    part: str
    edition: str
    annex: str
    may: bool


class PairingsFile(Sourced):
    key: str
    standard: str
    document: str
    document_edition: str
    pairs: list[PairEntry]


class RouteEntry(Sourced):
    jurisdiction: str
    work: Literal["existing", "new"]
    accepts: Literal["met", "not-met", "unknown"]
    reason: str
    #: where it speaks only of buildings with a storey from this height on
    from_height_m: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    operator: Literal["at least", "more than", ""] = ""
    #: the uses that it reaches for certain; of others at that height it leaves open
    uses: list[str] = []
    uses_source: str = ""


class RoutesFile(Strict):
    key: str
    title: str
    routes: list[RouteEntry]


class DeadlineEntry(Sourced):
    key: str
    title: str
    kind: Literal["statutory", "policy"]
    jurisdiction: str
    on: date
    from_m: float = Field(ge=0, allow_inf_nan=False)
    below_m: float | None = Field(default=None, gt=0, allow_inf_nan=False)


class DeadlinesFile(Strict):
    key: str
    title: str
    deadlines: list[DeadlineEntry]


Key = Annotated[str, Field(pattern="[a-z][a-z-]*")]
FaceName = Literal["main", "wing"]
SideName = Literal["external", "internal"]


class StartEntry(Sourced):
    level: int = Field(ge=1)
    side: SideName
    faces: list[FaceName]
    rise_k: Positive
    hold_s: Positive
    mean_over_s: Positive


class SpreadEntry(Sourced):
    key: Key
    title: str
    level: int = Field(ge=1)
    side: SideName
    faces: list[FaceName]
    rise_k: Positive
    hold_s: Positive
    window_min: Positive


class BurnThroughEntry(Sourced):
    title: str
    longer_than_s: Positive
    least_height_m: Positive
    window_min: Positive


class SeenEntry(Sourced):
    title: str


class CriteriaEntry(Sourced):
    document: str
    document_edition: str
    annex: str
    part: str
    fire_min: Positive
    start: StartEntry
    spreads: list[SpreadEntry]
    burn_through: BurnThroughEntry | None = None
    flames_above_rig: SeenEntry
    early_end: SeenEntry


class LevelEntry(Sourced):
    level: int = Field(ge=1)
    above_opening_m: Positive


class CriteriaFile(Strict):
    key: str
    levels: list[LevelEntry]
    sets: list[CriteriaEntry] = Field(min_length=1)
