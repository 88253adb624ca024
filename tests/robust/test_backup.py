"""A backup is one picture, comes back equal on either database, and never half."""

import hashlib
import json
import re
import shutil
import threading
import zipfile
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import sqlalchemy as sa
from hypothesis import strategies as st

from portfolio.db import models, people
from portfolio.db.certificates import Certificate
from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.orders import OrderVersion
from portfolio.db.people import Invitation
from portfolio.db.rulings import DecisionConfirmation, DecisionMark
from portfolio.db.session import engine_for, reading, writing
from portfolio.db.works import CalendarLink
from portfolio.domain.documents import DocumentKind, FactKind, SupportedFact
from portfolio.domain.errors import InputError
from portfolio.domain.evidence import Standing
from portfolio.domain.works import Decided, WorksStatus
from portfolio.services.documents.adding import DocumentFacts, GivenContent, add_document
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.verifying import Verified, verify_documents
from portfolio.services.handing_out import keep_pack
from portfolio.services.keeping.archive import verify
from portfolio.services.keeping.backup import backup
from portfolio.services.keeping.restore import restore
from portfolio.services.keeping.tables import tables_of
from portfolio.services.log_readings import ReadingFacts, keep_reading
from portfolio.services.packs import MadePack
from portfolio.services.progress import count_day
from portfolio.services.standing import StandingFacts, change_standing
from portfolio.services.viewer import LOCAL
from portfolio.services.works.facts import InterimFacts, StepFacts, WorksFacts
from portfolio.services.works.recording import create_interim, create_works
from tests.robust.processes import working
from tests.robust.wholeness import faults_of, looking_into
from tests.robust.worker import (
    NOON,
    edit_without_end,
    estate,
    import_without_end,
    take_in_estate,
)
from tests.services.rules_support import UNDER_CONDITIONS, write
from tests.web.accounts import fill_people
from tests.web.portfolios import Portfolio, fill_one_of_each, filling

SIGN_INS = {"sign_in", "failed_sign_in", "calendar_link"}
PAPER, OTHER_PAPER = b"%PDF-1.7 a report" * 100, b"%PDF-1.7 another"
PAPER_SHA256 = hashlib.sha256(PAPER).hexdigest()
_Engines = Callable[[str], sa.Engine]


@pytest.fixture
def opened() -> Iterator[_Engines]:
    """Opens engines, and closes them all at the end."""
    engines: list[sa.Engine] = []

    def _open(url: str) -> sa.Engine:
        engines.append(engine_for(url))
        return engines[-1]

    yield _open
    for engine in engines:
        engine.dispose()


def _fill(url: str) -> None:
    """Something in every table."""
    with filling(url) as portfolio:
        fill_one_of_each(portfolio)
        owners = portfolio.session.scalars(sa.select(models.Organisation))
        fill_people(portfolio, {owner.ref: owner.id for owner in owners})
        _share_and_sign_in(portfolio)
    engine = engine_for(url)
    take_in_estate(engine, estate("FIRST"))
    with writing(engine) as session:
        changes = {"metres": (None, 18.6), "words": ("Straße", ["a", None, 1.5e22])}
        entry = Entry("changed", "building", 1, "TALL", 1, changes, "measured")
        record(session, Actor("A. Tester", 1, 1), [entry])
        count_day(session, NOON.date())
        for content in (PAPER, OTHER_PAPER):
            add_document(
                session,
                LOCAL,
                contents_for(engine),
                GivenContent("paper.pdf", content),
                facts=DocumentFacts(DocumentKind.REPORT, on=NOON.date()),
                supports=[SupportedFact(FactKind.TEST, 1)],
                on=NOON.date(),
            )
        facts = ReadingFacts("300", channels=2, observations=2)
        keep_reading(session, LOCAL, 1, facts, revision=0, on=NOON.date())
        keep_pack(session, LOCAL, MadePack(1, NOON.date(), b"pack", frozenset()))
        # the test that failed: what would settle a zone goes by the one that passed
        test = session.get_one(models.TestRecord, 2)
        change_standing(
            session,
            LOCAL,
            test.id,
            StandingFacts(Standing.DISPUTED, NOON.date(), "A reading is doubted."),
            revision=test.revision,
            on=NOON.date(),
        )
    engine.dispose()


def _share_and_sign_in(portfolio: Portfolio) -> None:
    session = portfolio.session
    person = session.get_one(people.Person, 1)
    building = session.get_one(models.Building, 1)
    zone = session.get_one(models.Zone, 1)
    test = session.get_one(models.TestRecord, 1)
    on = NOON.date()
    owner = building.organisation_id
    by = {"by": "A. Tester", "on": on}
    session.add_all(
        [
            people.SignIn(person=person, token_hash="1" * 64, started_at=NOON, seen_at=NOON),
            people.FailedSignIn(key="2" * 64, failures=3, wait_until=NOON),
            people.Invitation(
                organisation_id=owner,
                email="new@north.test",
                name="New",
                role=person.role,
                token_hash="3" * 64,
                expires_at=NOON + timedelta(days=1, microseconds=1),
                used_at=None,
                invited_by="A. Tester",
            ),
            people.BuildingGrant(
                building=building,
                organisation_id=owner,
                access="read",
                from_day=on,
                until_day=None,
                taken_back_at=NOON,
                granted_by="A. Tester",
            ),
            people.DemandShare(
                owner_id=owner, laboratory_id=owner, is_named=True, since=on, granted_by="A."
            ),
            models.Settlement(
                zone_id=zone.id, parameter="cavity", survey_ref="S1", reason="r", **by
            ),
            models.Decision(id=1, zone_id=zone.id, ruling="Sound", reasons="r", **by),
            DecisionConfirmation(
                id=1,
                decision_id=1,
                qualification="engineer",
                reason="r",
                rested_on={"coverage": "covered"},
                recorded_on=on,
                **by,
            ),
            DecisionMark(decision_id=1, confirmation_id=1, what="coverage", on=on),
            models.TestConsent(
                test_id=test.id,
                organisation_ref="north",
                organisation_id=owner,
                consent="given",
                on=on,
            ),
            models.TestConsent(test_id=test.id, organisation_ref="nobody", consent="asked"),
            Certificate(organisation_id=owner, ref="C-1", product="Panel", calorific_value=2.5),
        ]
    )
    write(session, LOCAL, owner, UNDER_CONDITIONS)
    began = WorksFacts("W-1", Decided.REPLACEMENT, zones=(zone.ref,), estimate_minor=10**12)
    first = StepFacts(WorksStatus.IDENTIFIED, on)
    works = create_works(session, LOCAL, zone.building_id, began, first, today=on).id
    create_interim(session, LOCAL, works, InterimFacts("patrols", on, review_on=on), on)
    session.add(
        CalendarLink(organisation_id=owner, token_hash="3" * 64, made_by="A. Tester", made_on=on)
    )
    session.add(
        OrderVersion(
            organisation_id=owner,
            key="ours",
            version=1,
            title="Our order",
            steps=[{"criterion": "coverage"}],
            author="A. Tester",
            reason="r",
            recorded_on=on,
        )
    )


def _rows(engine: sa.Engine) -> dict[str, list[tuple[Any, ...]]]:
    """Everything in every table, as the driver reads it; whether JSON is there at all included."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    with engine.connect() as connection:
        for table in models.Base.metadata.sorted_tables:
            kept = [
                *table.columns,
                *(sa.cast(c, sa.Text) for c in table.columns if isinstance(c.type, sa.JSON)),
            ]
            rows = connection.execute(sa.select(*kept).order_by(*table.primary_key.columns))
            found[table.name] = [tuple(map(_alike, row)) for row in rows]
    return found


def _alike(value: Any) -> Any:
    # SQLite forgets that a moment is in UTC
    return value.replace(tzinfo=None) if hasattr(value, "tzinfo") else value


def _without_sign_ins(rows: dict[str, Any]) -> dict[str, Any]:
    """Nobody signed in, and no link to join that could still be used."""
    found = {name: [] if name in SIGN_INS else kept for name, kept in rows.items()}
    used = list(Invitation.__table__.columns.keys()).index("used_at")
    return found | {"invitation": [row for row in found["invitation"] if row[used] is not None]}


@pytest.fixture(scope="module")
def first(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A filled database and its backup beside it. Copy them; never open them."""
    folder = tmp_path_factory.mktemp("filled")
    database = folder / "portfolio.sqlite"
    shutil.copyfile(sqlite_template, database)
    _fill(f"sqlite:///{database}")
    engine = engine_for(f"sqlite:///{database}")
    backup(engine, folder / "kept.zip", NOON)
    engine.dispose()
    return folder


@pytest.fixture
def filled(first: Path, opened: _Engines, tmp_path: Path) -> sa.Engine:
    """A database with something in every table, and its documents beside it."""
    documents = tmp_path / "filled.sqlite.documents"
    shutil.copytree(first / "portfolio.sqlite.documents", documents)
    return opened(
        f"sqlite:///{shutil.copy(first / 'portfolio.sqlite', tmp_path / 'filled.sqlite')}"
    )


@pytest.fixture
def kept(first: Path, tmp_path: Path) -> Path:
    """A backup of the filled database."""
    return Path(shutil.copy(first / "kept.zip", tmp_path))


def test_the_example_has_something_in_every_table(filled: sa.Engine) -> None:
    assert [name for name, rows in _rows(filled).items() if not rows] == []


@pytest.mark.postgres
def test_a_backup_comes_back_equal_on_the_other_database_and_home_again(
    filled: sa.Engine, kept: Path, postgres_url: str, opened: _Engines, tmp_path: Path
) -> None:
    before = _rows(filled)
    other = opened(postgres_url)
    restore(other, kept)
    assert _rows(other) == _without_sign_ins(before)

    back = tmp_path / "back.zip"
    backup(other, back, NOON)
    restore(filled, back)
    assert _rows(filled) == _without_sign_ins(before)


def test_the_log_goes_on_after_a_restore(database_url: str, kept: Path, opened: _Engines) -> None:
    engine = opened(database_url)
    restore(engine, kept)
    take_in_estate(engine, estate("NEXT"))
    with looking_into(database_url) as session:
        assert [fault for fault in faults_of(session) if fault.startswith("log")] == []
        assert session.scalar(sa.select(sa.func.max(models.Event.id))) == session.scalar(
            sa.select(sa.func.count(models.Event.id))
        )


def test_a_link_that_was_open_then_is_not_open_again(
    filled: sa.Engine, kept: Path, opened: _Engines, database_url: str
) -> None:
    with reading(filled) as session:
        links = session.scalars(sa.select(Invitation)).all()
    assert any(link.used_at is None for link in links), "the example has no open link"
    engine = opened(database_url)
    restore(engine, kept)
    with reading(engine) as session:
        left = session.scalars(sa.select(Invitation)).all()
    assert [link.id for link in left] == [link.id for link in links if link.used_at is not None]


def test_nobody_is_signed_in_after_a_restore(
    database_url: str, kept: Path, opened: _Engines
) -> None:
    engine = opened(database_url)
    restore(engine, kept)
    rows = _rows(engine)
    assert {name: rows[name] for name in SIGN_INS} == dict.fromkeys(SIGN_INS, [])
    assert rows["person"]


def test_the_change_log_is_protected_again_after_a_restore(
    database_url: str, kept: Path, opened: _Engines
) -> None:
    engine = opened(database_url)
    restore(engine, kept)
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), engine.begin() as connection:
        connection.execute(sa.update(models.Event).values(reason="better"))


def test_a_backup_while_others_write_is_one_picture(
    database_url: str, opened: _Engines, tmp_path: Path
) -> None:
    engine = opened(database_url)
    take_in_estate(engine, estate("FIRST"))
    sizes = []
    with (
        working(import_without_end, database_url, "I", tmp_path) as importer,
        working(edit_without_end, database_url, "E", tmp_path) as editor,
    ):
        importer.wait_until_ready()
        editor.wait_until_ready()
        for number in range(4):
            backup(engine, tmp_path / f"{number}.zip", NOON)
            rows = {part.name: part.rows for part in verify(tmp_path / f"{number}.zip").parts}
            sizes.append(rows["event"])
            importer.hear()
        importer.kill()
        editor.kill()
    assert sizes[0] < sizes[-1], "nobody wrote meanwhile"
    restore(engine, tmp_path / "3.zip")
    with looking_into(database_url) as session:
        assert faults_of(session) == []
        assert session.scalar(sa.select(sa.func.count(models.Event.id))) == sizes[-1]


def test_a_backup_never_overwrites_a_file(filled: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "mine.zip"
    path.write_bytes(b"mine")
    with pytest.raises(InputError, match="never overwrites"):
        backup(filled, path, NOON)
    assert path.read_bytes() == b"mine"


def test_of_two_backups_to_one_name_only_one_is_there(filled: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "kept.zip"
    outcomes: list[str] = []

    def write() -> None:
        try:
            backup(filled, path, NOON)
        except InputError as error:
            outcomes.append(str(error))
        else:
            outcomes.append("written")

    both = [threading.Thread(target=write) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert sorted(outcomes)[-1] == "written"
    assert "never overwrites" in sorted(outcomes)[0]
    verify(path)
    assert not list(tmp_path.glob("*.unfinished"))


def test_a_backup_that_cannot_be_written_leaves_nothing(filled: sa.Engine, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        backup(filled, tmp_path / "no" / "such" / "folder.zip", NOON)
    assert not list(tmp_path.glob("**/*.unfinished"))


# --- What is refused -----------------------------------------------------------------------------


def _refused(engine: sa.Engine, path: Path) -> str:
    """What the program says of a backup that it must refuse; nothing may have changed."""
    before = _rows(engine)
    with pytest.raises(InputError) as caught:
        restore(engine, path)
    assert _rows(engine) == before
    return str(caught.value)


def _rewritten(
    path: Path,
    *,
    manifest: Callable[[dict[str, Any]], Any] = lambda found: found,
    parts: Callable[[str, bytes], bytes | None] = lambda name, content: content,
) -> Path:
    """The archive with its manifest or its files changed; a part of None is left out."""
    changed = path.with_name("changed.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content: bytes | None = old.read(name)
            assert content is not None
            if name == "manifest.json":
                content = json.dumps(manifest(json.loads(content))).encode()
            else:
                content = parts(name, content)
            if content is not None:
                new.writestr(name, content)
    return changed


def _resigned(path: Path, name: str, change: Callable[[bytes], bytes]) -> Path:
    """The archive with one file changed and its hash made to fit."""
    with zipfile.ZipFile(path) as archive:
        content = change(archive.read(f"{name}.jsonl"))

    def manifest(found: dict[str, Any]) -> dict[str, Any]:
        for part in found["parts"]:
            if part["name"] == name:
                part["sha256"] = hashlib.sha256(content).hexdigest()
                part["rows"] = content.count(b"\n")
        return found

    return _rewritten(
        path,
        manifest=manifest,
        parts=lambda found, old: content if found == f"{name}.jsonl" else old,
    )


def test_a_truncated_backup_is_refused(filled: sa.Engine, kept: Path) -> None:
    whole = kept.read_bytes()
    for length in (0, 1, 100, len(whole) // 2, len(whole) - 1):
        kept.write_bytes(whole[:length])
        assert "damaged" in _refused(filled, kept)


@pytest.mark.parametrize(
    "content", [b"", b"PK\x03\x04", b"SQLite format 3\x00", b"<html></html>", b"PK\x05\x06" * 9]
)
def test_a_file_that_is_no_backup_is_refused(
    filled: sa.Engine, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "other.zip"
    path.write_bytes(content)
    assert "no backup of this program, or it is damaged" in _refused(filled, path)


def test_a_file_that_is_not_there_is_refused(filled: sa.Engine, tmp_path: Path) -> None:
    assert "cannot be opened" in _refused(filled, tmp_path / "none.zip")


@hypothesis.settings(
    max_examples=40,
    suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture],
)
@hypothesis.given(places=st.lists(st.floats(0, 1, exclude_max=True), min_size=1, max_size=3))
def test_flipped_bytes_are_found_or_do_not_matter(kept: Path, places: list[float]) -> None:
    whole = bytearray(kept.read_bytes())
    for place in places:
        whole[int(place * len(whole))] ^= 0xFF
    damaged = kept.with_name("damaged.zip")
    damaged.write_bytes(whole)
    try:
        found = verify(damaged)
    except InputError:
        return
    # only what nobody reads may differ, such as the hour of packing
    assert found == verify(kept)


def test_flipped_bytes_within_a_table_are_refused(filled: sa.Engine, kept: Path) -> None:
    whole = bytearray(kept.read_bytes())
    with zipfile.ZipFile(kept) as archive:
        event = archive.getinfo("event.jsonl")
    start = event.header_offset + 30 + len("event.jsonl") + 200
    whole[start : start + 4] = bytes(255 - byte for byte in whole[start : start + 4])
    kept.write_bytes(whole)
    assert "damaged: event" in _refused(filled, kept)


def test_a_missing_table_is_refused(filled: sa.Engine, kept: Path) -> None:
    gone = _rewritten(kept, parts=lambda name, content: None if "zone.j" in name else content)
    assert "damaged: zone cannot be read" in _refused(filled, gone)


def test_a_table_that_the_manifest_leaves_out_is_refused(filled: sa.Engine, kept: Path) -> None:
    def manifest(found: dict[str, Any]) -> dict[str, Any]:
        return found | {"parts": [part for part in found["parts"] if part["name"] != "decision"]}

    assert "not those of its schema" in _refused(filled, _rewritten(kept, manifest=manifest))


@pytest.mark.parametrize(
    "manifest",
    [
        [],
        None,
        "text",
        {},
        {"format": 1},
        {"format": None, "revision": "0001", "made_at": "", "parts": []},
        {"format": "one", "revision": "0001", "made_at": "", "parts": []},
        {"format": 1, "revision": "0001", "made_at": "", "parts": {"a": 1}},
        {"format": 1, "revision": "0001", "made_at": "", "parts": [{"name": "event"}]},
        {"format": 1, "revision": "0001", "made_at": "", "parts": [7]},
        {"format": 1, "revision": "0001", "made_at": "", "parts": None},
        {"format": 2, "revision": "0001", "made_at": "", "parts": [], "documents": [7]},
        {"format": 2, "revision": "0001", "made_at": "", "parts": [], "documents": 7},
        {"format": 0, "revision": "0001", "made_at": "", "parts": []},
    ],
)
def test_a_wrong_manifest_is_refused(filled: sa.Engine, kept: Path, manifest: Any) -> None:
    wrong = _rewritten(kept, manifest=lambda found: manifest)
    assert "damaged" in _refused(filled, wrong)


@pytest.mark.parametrize("field", ["rows", "sha256"])
def test_a_manifest_that_does_not_fit_its_tables_is_refused(
    filled: sa.Engine, kept: Path, field: str
) -> None:
    def manifest(found: dict[str, Any]) -> dict[str, Any]:
        found["parts"][0][field] = {"rows": 0, "sha256": "0" * 64}[field]
        found["parts"][-1][field] = {"rows": 10**6, "sha256": ""}[field]
        return found

    assert "not as it was written" in _refused(filled, _rewritten(kept, manifest=manifest))


@pytest.mark.parametrize(
    ("newer", "says"),
    [
        ({"format": 3}, r"a newer program \(format 3"),
        ({"revision": "9999"}, r"a newer program \(schema 9999\)"),
        ({"revision": ["0001"]}, "a newer program"),
        ({"revision": "../0001"}, "a newer program"),
    ],
)
def test_a_backup_of_a_newer_program_is_refused(
    filled: sa.Engine, kept: Path, newer: dict[str, Any], says: str
) -> None:
    told = _refused(filled, _rewritten(kept, manifest=lambda found: found | newer))
    assert re.search(says, told)
    assert told.endswith("Nothing has been restored.")


@pytest.mark.parametrize(
    "change",
    [
        lambda content: content.replace(b'"ref"', b'"reference"'),
        lambda content: content.replace(b'"organisation_id": 1', b'"organisation_id": 99'),
        lambda content: content + content.splitlines(keepends=True)[0],
        lambda content: b"7\n",
        lambda content: b"[1]\n",
        lambda content: b"not JSON\n",
    ],
    ids=["column", "parent", "twice", "number", "list", "text"],
)
def test_rows_that_do_not_fit_the_schema_are_refused(
    filled: sa.Engine, kept: Path, change: Callable[[bytes], bytes]
) -> None:
    assert "damaged: its rows do not fit" in _refused(filled, _resigned(kept, "building", change))


@pytest.mark.postgres
@pytest.mark.parametrize(
    "change",
    [
        lambda content: content.replace(b'"Tall House"', b'"' + b"T" * 201 + b'"'),
        lambda content: content.replace(b'"homes": 10', b'"homes": 99999999999'),
        lambda content: content.replace(b'"Tall House"', rb'"Tall\u0000House"'),
    ],
    ids=["too-long", "too-large", "no-text"],
)
def test_what_the_other_database_cannot_keep_is_refused_whole(
    kept: Path, postgres_url: str, opened: _Engines, change: Callable[[bytes], bytes]
) -> None:
    engine = opened(postgres_url)
    restore(engine, kept)
    told = _refused(engine, _resigned(kept, "building", change))
    assert "cannot keep" in told
    assert told.endswith("Nothing has been restored.")


def test_a_restore_that_fails_at_its_end_brings_everything_back_as_it_was(
    database_url: str, kept: Path, opened: _Engines, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = opened(database_url)
    take_in_estate(engine, estate("MINE"))
    before = _rows(engine)

    def _fail(*given: object) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr("portfolio.services.keeping.restore._restart_counters", _fail)
    with pytest.raises(OSError, match="No space"):
        restore(engine, kept)
    assert _rows(engine) == before
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), engine.begin() as connection:
        connection.execute(sa.delete(models.Event))


def test_a_backup_of_every_table_names_every_table(filled: sa.Engine, kept: Path) -> None:
    with filled.connect() as connection:
        tables = {table.name for table in tables_of(connection)}
    assert {part.name for part in verify(kept).parts} == tables
    shutil.copy(kept, kept.with_name("again.zip"))
    assert verify(kept.with_name("again.zip")) == verify(kept)


# --- Documents -----------------------------------------------------------------------------------


def _verified(engine: sa.Engine) -> Verified:
    with reading(engine) as session:
        return verify_documents(session, contents_for(engine))


def _place(engine: sa.Engine, sha256: str = PAPER_SHA256) -> Path:
    return contents_for(engine).folder / sha256[:2] / sha256


def test_documents_come_back_with_the_rows(database_url: str, kept: Path, opened: _Engines) -> None:
    engine = opened(database_url)
    restore(engine, kept)
    assert contents_for(engine).read(PAPER_SHA256) == PAPER
    found = _verified(engine)
    assert (found.documents, found.faults, found.strays) == (2, (), ())


def test_a_document_is_in_the_backup_once_and_as_it_was(kept: Path) -> None:
    with zipfile.ZipFile(kept) as archive:
        names = [name for name in archive.namelist() if name.startswith("documents/")]
        assert archive.read(f"documents/{PAPER_SHA256}") == PAPER
    assert len(names) == len(verify(kept).documents) == 2


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda content: content.replace(b"report", b"rapport"), "cannot be read"),
        (lambda content: content.replace(b"report", b"repost"), "altered"),
        (lambda content: b"", "cannot be read"),
        (lambda content: None, "cannot be read"),
    ],
    ids=["longer", "altered", "empty", "gone"],
)
def test_a_damaged_document_in_a_backup_is_refused(
    filled: sa.Engine, kept: Path, change: Callable[[bytes], bytes | None], says: str
) -> None:
    changed = _rewritten(
        kept, parts=lambda name, old: change(old) if name.endswith(PAPER_SHA256) else old
    )
    with pytest.raises(InputError, match=says):
        verify(changed)
    assert f"document {PAPER_SHA256}" in _refused(filled, changed)
    assert contents_for(filled).read(PAPER_SHA256) == PAPER


def test_a_backup_without_a_document_that_its_rows_need_is_refused(
    filled: sa.Engine, kept: Path
) -> None:
    changed = _rewritten(kept, manifest=lambda found: found | {"documents": []})
    assert re.search(rf"lacks the documents .*{PAPER_SHA256}", _refused(filled, changed))


@pytest.mark.parametrize("harm", ["gone", "damaged"])
def test_no_backup_is_written_without_a_document_unless_it_is_left_out_on_purpose(
    filled: sa.Engine, tmp_path: Path, harm: str
) -> None:
    _place(filled).unlink()
    if harm == "damaged":
        _place(filled).write_bytes(PAPER[:-1])
    with pytest.raises(InputError, match=PAPER_SHA256):
        backup(filled, tmp_path / "none.zip", NOON)
    assert not list(tmp_path.glob("none.zip*"))

    written = backup(filled, tmp_path / "without.zip", NOON, leave_out_damaged=True)
    assert written.left_out == (PAPER_SHA256,)
    before = _rows(filled)
    restore(filled, tmp_path / "without.zip")
    assert _rows(filled) == _without_sign_ins(before)
    assert [fault.sha256 for fault in _verified(filled).faults] == [PAPER_SHA256]


def test_a_restore_that_fails_leaves_files_that_nobody_refers_to_and_no_row_without_one(
    database_url: str, kept: Path, opened: _Engines, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = opened(database_url)

    def _fail(*given: object) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr("portfolio.services.keeping.restore._swap_in", _fail)
    with pytest.raises(OSError, match="No space"):
        restore(engine, kept)
    found = _verified(engine)
    assert (found.documents, found.faults, len(found.strays)) == (0, (), 2)


def test_a_backup_of_before_documents_is_still_read(
    sqlite_url: str, opened: _Engines, tmp_path: Path
) -> None:
    engine = opened(sqlite_url)
    take_in_estate(engine, estate("OLD"))
    backup(engine, tmp_path / "new.zip", NOON)

    def manifest(found: dict[str, Any]) -> dict[str, Any]:
        kept = {key: found[key] for key in ("revision", "made_at", "parts")}
        return kept | {"format": 1}

    before = _rows(engine)
    restore(engine, _rewritten(tmp_path / "new.zip", manifest=manifest))
    assert _rows(engine) == before
