"""Tables prepared to be shown row by row."""

from markupsafe import Markup

from portfolio.web.tables import row_by_row
from tests.web.reading import Page

TABLE = Markup(
    '<table><thead><tr><th scope="col">Zone</th>'
    '<th scope="col"><span class="sign" aria-hidden="true">C</span> Covered &amp; “known”</th>'
    '<th scope="col" class="number"><span class="note">2.</span>\n  Area</th></tr></thead>'
    '<tbody><tr><th scope="row">N</th><td class="wide">yes</td><td>5 m²</td></tr>'
    '<tr><td colspan="2">none</td><td>6 m²</td></tr></tbody></table>'
)


def test_every_cell_is_told_its_column() -> None:
    cells = Page(row_by_row(TABLE)).all("td")
    assert [cell.get("data-column") for cell in cells] == [
        "Covered & “known”",
        "2. Area",
        None,
        "2. Area",
    ]
    assert cells[0]["class"] == "wide"
    assert Page(row_by_row(TABLE)).all("th")[-1]["data-column"] == "Zone"


def test_the_header_above_the_names_of_the_rows_is_marked() -> None:
    [marked] = [one for one in Page(row_by_row(TABLE)).all("th") if "data-row-names" in one]
    assert marked["scope"] == "col"
    later = Markup(
        str(TABLE)
        .replace('<th scope="row">N</th><td', "<td>N</td><th")
        .replace("yes</td>", "yes</th>")
    )
    places = ["data-row-names" in one for one in Page(row_by_row(later)).all("th")]
    assert places == [False, True, False, False]


def test_what_is_shown_as_blocks_says_that_it_is_a_table() -> None:
    elements = Page(row_by_row(TABLE)).elements
    roles = {
        (tag, attributes.get("scope", ""), attributes["role"])
        for tag, attributes in elements
        if tag != "span"
    }
    assert roles == {
        ("table", "", "table"),
        ("thead", "", "rowgroup"),
        ("tbody", "", "rowgroup"),
        ("tr", "", "row"),
        ("th", "col", "columnheader"),
        ("th", "row", "rowheader"),
        ("td", "", "cell"),
    }


def test_a_name_of_a_column_cannot_break_out_of_its_attribute() -> None:
    mean = Markup(str(TABLE).replace("“known”", "&#34;&gt;&lt;b&gt;"))
    page = Page(row_by_row(mean))
    assert page.all("td")[0]["data-column"] == 'Covered & "><b>'
    assert page.all("b") == []


def test_two_columns_stay_side_by_side() -> None:
    few = Markup("<table><thead><tr><th>What</th><th>How many</th></tr></thead></table>")
    assert row_by_row(few) == few
