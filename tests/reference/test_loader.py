"""The reference files are refused, naming the file, as soon as anything in them is not right."""

import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from portfolio.domain.errors import ReferenceDataError
from portfolio.domain.onerous import NumberOrder
from portfolio.domain.parameters import PARAMETERS, Kind
from portfolio.domain.rules import rules_in_force
from portfolio.reference.loader import EVACUATION, HERE, SPRINKLERS, load_reference

RULE = "rules/as-tested-cavity-depth.toml"
WORDS = "vocabulary/joint.toml"
INSULATION = "onerousness/insulation.toml"
NUMBERS = "onerousness/calorific-value.toml"
ORDER = "orders/house.toml"
SOURCED = (
    RULE,
    WORDS,
    INSULATION,
    "no-milder-side.toml",
    "onerousness/facing-class.toml",
    "onerousness/insulation-class.toml",
    "onerousness/insulation-thickness.toml",
    ORDER,
    "pairings.toml",
    "occupancy.toml",
    "routes.toml",
    "criteria.toml",
    "heights/england.toml",
)

Edit = Callable[[str, str, str], None]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shipped files, to be spoilt."""
    copy = tmp_path / "reference"
    shutil.copytree(HERE, copy, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    return copy


@pytest.fixture
def edit(folder: Path) -> Edit:
    """Replace a text, once, in one of the files."""

    def replace(name: str, old: str, new: str) -> None:
        text = (folder / name).read_text("utf-8")
        assert old in text
        (folder / name).write_text(text.replace(old, new, 1), "utf-8")

    return replace


def without_line(text: str, start: str) -> str:
    lines = text.splitlines(keepends=True)
    place = next(i for i, line in enumerate(lines) if line.startswith(start))
    return "".join(lines[:place] + lines[place + 1 :])


def check_refused(folder: Path, name: str) -> str:
    with pytest.raises(ReferenceDataError) as caught:
        load_reference(folder)
    assert Path(name).name in str(caught.value)
    return str(caught.value)


def test_an_unspoilt_copy_loads_as_the_shipped_files(folder: Path) -> None:
    assert load_reference(folder).rules == load_reference().rules
    assert load_reference(folder).order == load_reference().order


@pytest.mark.parametrize("name", SOURCED)
@pytest.mark.parametrize("field", ["source", "status", "effective_from"])
def test_an_entry_without_source_status_or_date_is_refused(
    folder: Path, name: str, field: str
) -> None:
    path = folder / name
    path.write_text(without_line(path.read_text("utf-8"), f"{field} = "), "utf-8")
    assert field in check_refused(folder, name)


@pytest.mark.parametrize("name", SOURCED)
def test_an_unknown_key_is_refused(folder: Path, name: str, edit: Edit) -> None:
    edit(name, "status = ", 'colour = "red"\nstatus = ')
    assert "colour" in check_refused(folder, name)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('status = "house"', 'status = "certain"'),
        ("effective_from = 2026-01-01", 'effective_from = "2026-01-01"'),
        ("amount = 2", 'amount = "2"'),
        ("amount = 2", "amount = -2"),
        ("amount = 2", "amount = inf"),
        ("amount = 2", "amount = nan"),
        ('source = "house default of this project: measuring tolerance', 'source = ""\n# "'),
        ("effective_from = 2026-01-01", "effective_from = 2026-13-01"),
    ],
    ids=lambda text: text[:40],
)
def test_a_value_of_the_wrong_kind_is_refused(folder: Path, edit: Edit, old: str, new: str) -> None:
    edit(RULE, old, new)
    check_refused(folder, RULE)


# --- Rules ---------------------------------------------------------------------------------------

SECOND_VERSION = """
[[versions]]
effective_from = {start}
amount = 3
source = "a second version, invented for a test"
status = "house"

[[examples]]
"""


def test_two_versions_that_start_on_the_same_day_are_refused(folder: Path, edit: Edit) -> None:
    edit(RULE, "[[examples]]\n", SECOND_VERSION.format(start="2026-01-01"))
    assert "two versions start on the same day" in check_refused(folder, RULE)


def test_a_version_ends_where_the_next_one_starts(folder: Path, edit: Edit) -> None:
    edit(RULE, "[[examples]]\n", SECOND_VERSION.format(start="2027-01-01"))
    rules = load_reference(folder).rules
    amounts = {
        on: [r.amount for r in rules_in_force(rules, on).rules if r.id == "as-tested-cavity-depth"]
        for on in (date(2025, 12, 31), date(2026, 12, 31), date(2027, 1, 1))
    }
    assert list(amounts.values()) == [[], [2.0], [3.0]]


def test_a_version_may_end_before_the_next_one_starts(folder: Path, edit: Edit) -> None:
    edit(RULE, "amount = 2", "amount = 2\neffective_to = 2026-06-01")
    edit(RULE, "[[examples]]\n", SECOND_VERSION.format(start="2027-01-01"))
    rules = load_reference(folder).rules
    between = rules_in_force(rules, date(2026, 8, 1)).rules
    assert "as-tested-cavity-depth" not in {rule.id for rule in between}


def test_a_version_that_ends_after_the_next_one_starts_is_refused(folder: Path, edit: Edit) -> None:
    edit(RULE, "amount = 2", "amount = 2\neffective_to = 2028-01-01")
    edit(RULE, "[[examples]]\n", SECOND_VERSION.format(start="2027-01-01"))
    assert "overlap" in check_refused(folder, RULE)


def test_a_version_that_ends_before_it_starts_is_refused(folder: Path, edit: Edit) -> None:
    edit(RULE, "amount = 2", "amount = 2\neffective_to = 2025-01-01")
    assert "ends before it starts" in check_refused(folder, RULE)


def test_a_rule_for_an_unknown_parameter_is_refused(folder: Path, edit: Edit) -> None:
    edit(RULE, '"cavity.1.depth"', '"cavity.1.width"')
    assert "cavity.1.width" in check_refused(folder, RULE)


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('unit = "mm"', 'unit = "cm"', "an amount in another unit"),
        ('parameters = ["cavity.1.depth"]', 'parameters = ["cavity.1.ventilation"]', "no measure"),
        (
            'parameters = ["cavity.1.depth"]',
            'parameters = ["cavity.1.depth", "facing.1.calorific_value"]',
            "two units",
        ),
    ],
)
def test_a_rule_speaks_only_of_measures_in_their_own_unit(
    folder: Path, edit: Edit, old: str, new: str, why: str
) -> None:
    edit(RULE, old, new)
    assert "measure in" in check_refused(folder, RULE), why


def test_an_example_of_a_parameter_that_the_rule_does_not_name_is_refused(
    folder: Path, edit: Edit
) -> None:
    edit(RULE, 'parameter = "cavity.1.depth"', 'parameter = "frame.1.thickness"')
    assert "frame.1.thickness" in check_refused(folder, RULE)


def test_two_rules_of_one_id_are_refused(folder: Path, edit: Edit) -> None:
    edit(RULE, 'id = "as-tested-cavity-depth"', 'id = "as-tested-joint-width"')
    assert "as-tested-joint-width" in check_refused(folder, "as-tested-joint-width.toml")


# --- Vocabularies --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('aliases = ["sealed"]', 'aliases = ["Open joints"]'),
        ('key = "baffled"', 'key = "open"'),
        ('label = "baffled joints"', 'label = "open joints"'),
    ],
)
def test_a_word_that_stands_twice_is_refused(folder: Path, edit: Edit, old: str, new: str) -> None:
    edit(WORDS, old, new)
    check_refused(folder, WORDS)


def test_a_group_of_words_that_do_not_exist_is_refused(folder: Path, edit: Edit) -> None:
    edit(WORDS, 'label = "baffled joints"', 'label = "baffled joints"\nmembers = ["shut"]')
    assert "shut" in check_refused(folder, WORDS)


def test_a_group_of_groups_is_refused(folder: Path, edit: Edit) -> None:
    name = "vocabulary/insulation-material.toml"
    edit(name, 'members = ["eps", "xps"]', 'members = ["eps", "foam-plastic"]')
    assert "foam-plastic" in check_refused(folder, name)


def test_two_files_of_one_category_are_refused(folder: Path) -> None:
    shutil.copy(folder / WORDS, folder / "vocabulary" / "zz-joint.toml")
    assert "joint" in check_refused(folder, "zz-joint.toml")


# --- Onerousness ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        (INSULATION, '["pir-foam", "eps"]', '["pir-fom", "eps"]'),
        (INSULATION, '["pir-foam", "eps"]', '["stone-wool", "eps"]'),
        (INSULATION, '"insulation.1.material"', '"insulation.1.stuff"'),
        ("onerousness/core.toml", '["2", "3"]', '["2", "4"]'),
        ("onerousness/barriers.toml", '["steel", "none"]', '["stel", "none"]'),
        (NUMBERS, '"facing.1.calorific_value"', '"facing.1.calorific"'),
        (NUMBERS, '"facing.1.calorific_value"', '"facing.1.class"'),
        (INSULATION, '"insulation.1.material"', '"insulation.1.thickness"'),
    ],
)
def test_an_order_of_words_or_parameters_that_do_not_exist_is_refused(
    folder: Path, edit: Edit, name: str, old: str, new: str
) -> None:
    """A misspelt step would be silently missing, and with it a contradiction."""
    edit(name, old, new)
    says = check_refused(folder, name)
    assert any(word in says for word in re.findall(r"[\w.-]+", new))


@pytest.mark.parametrize("more", ["", 'more_is = "more onerous"\nsteps = [["1", "2"]]'])
def test_an_order_says_one_thing(folder: Path, edit: Edit, more: str) -> None:
    edit(NUMBERS, 'more_is = "more onerous"', more)
    check_refused(folder, NUMBERS)


def test_two_orders_of_one_name_are_refused(folder: Path, edit: Edit) -> None:
    edit(NUMBERS, 'key = "calorific-value"', 'key = "barriers"')
    assert "barriers" in check_refused(folder, NUMBERS)


@pytest.mark.parametrize("name", [INSULATION, "onerousness/core.toml"])
def test_the_orders_that_judging_needs_must_be_there(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert "insulation and core" in check_refused(folder, "onerousness")


def test_an_order_that_judging_needs_is_one_of_categories(folder: Path, edit: Edit) -> None:
    edit(NUMBERS, 'key = "calorific-value"', 'key = "insulation"')
    (folder / INSULATION).unlink()
    assert "orders of categories" in check_refused(folder, "onerousness")


def test_a_measure_of_which_more_is_worse_is_an_order_of_numbers() -> None:
    orders = load_reference().judge.orders.others
    assert [o.parameters for o in orders if isinstance(o, NumberOrder)] == [
        ("facing.1.calorific_value",)
    ]


# --- Which side is milder, or none ---------------------------------------------------------------

NO_SIDE = "no-milder-side.toml"


def test_there_is_one_word_on_which_side_of_every_parameter_is_milder() -> None:
    sides = load_reference().milder_sides
    assert sides.keys() == PARAMETERS.keys()
    assert [key for key, side in sides.items() if not side.source] == []
    assert [key for key, side in sides.items() if not side.acquits and not side.why] == []


def test_only_these_parameters_can_acquit_a_wall() -> None:
    """Each more is a wall that a failing test no longer speaks against: never by the way."""
    assert {key for key, side in load_reference().milder_sides.items() if side.acquits} == {
        "facing.1.core_category",
        "facing.1.calorific_value",
        "facing.1.class",
        "insulation.1.material",
        "insulation.2.material",
        "barrier-horizontal.1.type",
        "barrier-vertical.1.type",
    }
    orders = load_reference().judge.orders.others
    assert {key for order in orders for key in order.parameters} == {
        "facing.1.calorific_value",
        "barrier-horizontal.1.type",
        "barrier-vertical.1.type",
    }


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [
        (NO_SIDE, '"wall.substrate"', '"facing.1.class"', "more than one word on"),
        (NO_SIDE, '"wall.substrate"', '"wall.colour"', "no such parameter"),
        (NO_SIDE, '"wall.substrate"', '"wall.sequence"', "more than one word on"),
        (NO_SIDE, 'key = "cavity"', 'key = "joints"', "stand twice"),
        ("onerousness/insulation-thickness.toml", "acquits = false", "acquits = true", "says why"),
        (
            "onerousness/barriers.toml",
            'status = "house"',
            'status = "house"\nacquits = false',
            "why",
        ),
        ("onerousness/facing-class.toml", '"facing.1.class"', '"facing.1.joint"', "no reaction"),
    ],
)
def test_a_word_on_the_milder_side_that_is_missing_or_stands_twice_is_refused(
    folder: Path, edit: Edit, *, name: str, old: str, new: str, says: str
) -> None:
    edit(name, old, new)
    assert says in check_refused(folder, name)


def test_a_parameter_without_any_word_is_refused(folder: Path, edit: Edit) -> None:
    edit(NO_SIDE, '    "facing.1.joint_width",\n', "")
    assert "no word on which side is milder of ['facing.1.joint_width']" in check_refused(
        folder, NO_SIDE
    )


# --- Order of gaps, uses, pairings, routes -------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('criterion = "sprinklers"', 'criterion = "colour"'),
        ('values = ["none", "parts", "throughout"]', 'values = ["none", "parts"]'),
        ('values = ["none", "parts", "throughout"]', "values = []"),
        ('values = ["50", "30", "18", "11", "0"]', 'values = ["60", "30", "18", "11", "0"]'),
        ('labels = ["none", "in parts", "throughout"]', 'labels = ["none", "throughout"]'),
        ('key = "50"', 'key = "30"'),
    ],
)
def test_a_step_that_cannot_order_is_refused(folder: Path, edit: Edit, old: str, new: str) -> None:
    edit(ORDER, old, new)
    check_refused(folder, ORDER)


def test_a_use_sleeps_in_one_of_three_ways(folder: Path, edit: Edit) -> None:
    edit("occupancy.toml", 'sleeping = "needs-help"', 'sleeping = "often"')
    check_refused(folder, "occupancy.toml")


def test_a_route_has_one_of_three_answers(folder: Path, edit: Edit) -> None:
    edit("routes.toml", 'accepts = "met"', 'accepts = "yes"')
    check_refused(folder, "routes.toml")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('operator = "at least"\n', ""),
        ("from_height_m = 18\n", ""),
        ("from_height_m = 11", "from_height_m = -11"),
        ('"mixed-sleeping"]', '"no-such-use"]'),
        ("effective_to = 2022-12-01", "effective_to = 2018-12-21"),
        ("effective_from = 2022-12-01", "effective_from = 2018-12-21"),
    ],
)
def test_a_route_without_a_whole_reach_or_that_stands_twice_is_refused(
    folder: Path, edit: Edit, old: str, new: str
) -> None:
    edit("routes.toml", old, new)
    check_refused(folder, "routes.toml")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('measure = "floor"', 'measure = "parapet"', "measure"),
        ('operator = "at least"', 'operator = "about"', "operator"),
        ("value = 18.0", "value = 0.0", "value"),
        ("value = 7.0", "value = 6.5", "counts in parts"),
        ("start_is_known = false", "start_is_known = false\neffective_to = 2026-12-01", "ends"),
        ("start_is_known = false\n", "", "start_is_known"),
        ('key = "funding-statistics"', 'key = "higher-risk-in-occupation"', "stand twice"),
        ('jurisdiction = "England"', 'jurisdiction = "Wales"', "another file"),
    ],
)
def test_a_threshold_that_cannot_be_asked_is_refused(
    folder: Path, edit: Edit, old: str, new: str, says: str
) -> None:
    edit("heights/england.toml", old, new)
    name = "wales.toml" if says == "another file" else "england.toml"
    assert says in check_refused(folder, name)


def test_a_file_that_is_no_toml_is_refused(folder: Path) -> None:
    (folder / "routes.toml").write_text("[[routes", "utf-8")
    check_refused(folder, "routes.toml")


def test_a_missing_file_is_refused(folder: Path) -> None:
    (folder / "routes.toml").unlink()
    check_refused(folder, "routes.toml")


# --- What is shipped -----------------------------------------------------------------------------


def test_every_category_of_a_parameter_is_in_the_vocabulary() -> None:
    wanted = {p.attribute.category for p in PARAMETERS.values() if p.kind is Kind.CATEGORY}
    assert set(load_reference().vocabulary.categories) == wanted


def test_every_layer_can_be_said_to_be_absent() -> None:
    for parameter in PARAMETERS.values():
        attribute = parameter.attribute
        if parameter.role is not None and attribute.key in ("material", "type", "ventilation"):
            assert "none" in load_reference().vocabulary[attribute.category].singles


def test_every_use_has_its_way_of_sleeping() -> None:
    reference = load_reference()
    assert {use.sleeping for use in reference.uses.values()} == {
        "needs-help",
        "sleeping",
        "not-sleeping",
    }
    assert reference.order.sleeping_by_use.keys() == reference.uses.keys()


def test_words_for_evacuation_and_sprinklers_have_labels() -> None:
    assert all(EVACUATION.values())
    assert all(SPRINKLERS.values())


def test_what_is_from_memory_says_so() -> None:
    [wales] = [r for r in load_reference().routes if r.jurisdiction == "Wales"]
    assert "from memory" in wales.source


CRITERIA = "criteria.toml"


def test_the_shipped_criteria_are_one_set_an_annex_and_every_one_says_how_sure_it_is() -> None:
    sets = load_reference().criteria
    assert [(one.document, one.annex, one.part) for one in sets] == [
        ("BR 135", "A", "1"),
        ("BR 135", "B", "2"),
    ]
    for one in sets:
        rules = [one.start, *one.spreads, one.flames_above_rig, one.early_end]
        assert {rule.basis.status for rule in rules} == {"from memory", "secondary", "house"}
    assert [one.burn_through is None for one in sets] == [True, False]


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('key = "internal-spread"', 'key = "external-spread"', "once each"),
        ('annex = "B"', 'annex = "A"', "stand twice"),
        ("level = 1", "level = 2", "twice at one place"),
        ("rise_k = 600", "rise_k = -600", "rise_k"),
        ("hold_s = 30", "hold_seconds = 30", "hold_seconds"),
        ('status = "from memory"', 'status = "certain"', "status"),
        ('faces = ["main", "wing"]', 'faces = ["front"]', "faces"),
    ],
)
def test_criteria_that_cannot_be_meant_are_refused(
    folder: Path, edit: Edit, old: str, new: str, why: str
) -> None:
    edit(CRITERIA, old, new)
    assert why in check_refused(folder, CRITERIA)
