"""Assessments on record: stored once, never changed, run again with the inputs that made them."""

import copy
import tomllib

import numpy as np
import pytest
import sqlalchemy as sa

from lifetime.assessment.run import assess
from lifetime.errors import InputError
from lifetime.split import rules
from lifetime.study.load import Folder, load_study, resolve_study
from webapi import models
from webapi.database import write
from webapi.errors import NotFoundError, QueryError
from webapi.services import assessments, keys, reruns, studies
from webapi.services.recording import record_files

DEMO_FILE = "yard_tractor.toml"


@pytest.fixture
def recorded(session, store, demo_study):
    from lifetime.packs.locate import profiles_folder

    folder = profiles_folder() / "demo"
    loaded = resolve_study(demo_study, "demo", Folder(folder))
    result = assess(loaded)
    row, new = record_files(session, store, loaded, result, folder)
    assert new
    return row, loaded, result, folder


def test_the_same_is_stored_once(session, store, recorded):
    row, loaded, result, folder = recorded
    again, new = record_files(session, store, loaded, result, folder)
    assert (again.id, new) == (row.id, False)
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Assessment)) == 1
    assert session.scalar(sa.select(sa.func.count()).select_from(models.AssessmentSource)) == 3


def test_a_function_given_in_python_is_assessed_but_not_recorded(session, store, demo_study, recorded):
    _, _, _, folder = recorded
    given = copy.deepcopy(demo_study)
    given["strategy"] = given["strategy"][1:2]
    given["strategy"][0]["split"] = rules.function(lambda step: (min(step.demand_W, 40e3), step.state))
    loaded = resolve_study(given, "given", Folder(folder))
    before = session.scalar(sa.select(sa.func.count()).select_from(models.Assessment))
    with pytest.raises(InputError, match="given in Python, so a record"):
        record_files(session, store, loaded, assess(loaded, in_detail=False), folder)
    assert session.scalar(sa.select(sa.func.count()).select_from(models.Assessment)) == before


def test_from_the_command_line_or_through_the_service_it_is_the_same(session, store, recorded):
    """C112: the stored study, read back with histories by id, has the same fingerprint and numbers."""
    row, _, result, _ = recorded
    study = session.get(models.Study, row.study_id)
    again = assess(studies.check(session, store, study.document))
    assert again.id == result.id == row.id
    assert again.strategies[0].cost.net_present_cost == result.strategies[0].cost.net_present_cost


@pytest.mark.parametrize("place", [("battery", "start_soc"), ("cost", "discount_rate"), ("service", "years")])
def test_c112_a_millionth_makes_another_fingerprint(demo_study, recorded, place):
    _, _, result, folder = recorded
    moved = copy.deepcopy(demo_study)
    moved[place[0]][place[1]] *= 1.0 + 1e-6
    assert assess(resolve_study(moved, "moved", Folder(folder))).id != result.id


def test_c112_the_order_of_keys_does_not_matter(demo_study, recorded):
    _, _, result, folder = recorded
    turned = {key: demo_study[key] for key in reversed(demo_study)}
    assert assess(resolve_study(turned, "turned", Folder(folder))).id == result.id


def test_run_again_the_numbers_agree(session, store, recorded):
    found = reruns.rerun(session, store, recorded[0].id)
    assert found.agrees
    assert found.figures > 10


def test_run_again_it_says_which_numbers_differ(session, store, recorded):
    row = assessments.get(session, recorded[0].id)
    document = copy.deepcopy(row.document)
    document["strategies"][0]["battery"]["life_years"] *= 1.01
    with write(session):
        session.execute(sa.update(models.Assessment).values(document=document))
    session.expire_all()
    found = reruns.rerun(session, store, row.id)
    assert not found.agrees
    assert [one.place for one in found.differences] == [f"{document['strategies'][0]['name']}, battery: life_years"]
    assert found.differences[0].relative == pytest.approx(0.01 / 1.01)


def test_it_can_be_run_again_without_the_files_it_was_made_from(session, store, demo_study, tmp_path, demo_csv):
    """The user's own parameter set, climate and history may be gone; the record has their content."""
    from lifetime.packs.locate import profiles_folder

    cell = (profiles_folder() / "batteries" / "lfp_naumann_2020.toml").read_text("utf-8")
    (tmp_path / "my_cell.toml").write_text(cell.replace('title = "LFP', 'title = "Mine: LFP'), encoding="utf-8")
    days = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]").astype(object)
    hours = [f"2001,{day.month},{day.day},{hour},60,x,{10 + hour}" for day in days for hour in range(1, 25)]
    (tmp_path / "yard.epw").write_text("\n".join(["LOCATION,yard", *["x"] * 7, *hours]), encoding="utf-8")
    (tmp_path / "shift.csv").write_bytes(demo_csv)
    demo_study["battery"]["cell"] = "my_cell.toml"
    demo_study["service"]["climate"] = "yard.epw"
    for strategy in demo_study["strategy"]:
        strategy["demand"]["file"] = "shift.csv"
    loaded = resolve_study(demo_study, "mine", Folder(tmp_path))
    row, _ = record_files(session, store, loaded, assess(loaded), tmp_path)
    for name in ("my_cell.toml", "yard.epw", "shift.csv"):
        (tmp_path / name).unlink()
    assert reruns.rerun(session, store, row.id).agrees


def test_what_is_not_there_is_said_so(session, store):
    with pytest.raises(NotFoundError, match="nowhere"):
        assessments.get(session, "nowhere")


class TestSearch:
    @pytest.fixture(autouse=True)
    def _many(self, session, recorded):
        """Forty more sources of other strategies, made up; only search is at stake."""
        base = session.scalars(sa.select(models.AssessmentSource).limit(1)).one()
        values = {
            column.key: getattr(base, column.key)
            for column in sa.inspect(models.AssessmentSource).column_attrs
            if column.key != "id"
        }
        with write(session):
            for number in range(40):
                session.add(
                    models.AssessmentSource(
                        **{
                            **values,
                            "strategy": f"Made up {number:02}",
                            "strategy_folded": f"made up {number:02}",
                            "life_years": None if number % 10 == 0 else float(number % 7),
                            "life_key": 1e6 if number % 10 == 0 else float(number % 7),
                            "cost_key": float(number % 5),
                            "net_present_cost": float(number % 5),
                        }
                    )
                )

    @pytest.mark.parametrize("sort", ["life", "-life", "cost", "-cost", "created_at", "-created_at", "strategy"])
    def test_pages_together_are_the_whole_list_without_gaps_or_twins(self, session, sort):
        seen, cursor = [], None
        while True:
            page = assessments.search(session, assessments.Filters(), sort=sort, cursor=cursor, limit=7)
            seen += [row.id for row in page.items]
            cursor = page.next_cursor
            if cursor is None:
                break
        assert len(seen) == len(set(seen)) == 43
        key = assessments.SORTS[sort.removeprefix("-")].column.key
        rows = {row.id: row for row in session.scalars(sa.select(models.AssessmentSource))}
        values = [getattr(rows[one], key) for one in seen]
        assert values == sorted(values, reverse=sort.startswith("-"))

    def test_filters_narrow(self, session):
        found = assessments.search(
            session,
            assessments.Filters(strategy="MADE UP 1", life_min_years=2.0, life_max_years=5.0, cost_max=3.0),
            limit=100,
        ).items
        assert found
        assert all(row.strategy.startswith("Made up 1") and 2.0 <= row.life_key <= 5.0 for row in found)
        assert all(row.cost_key <= 3.0 for row in found)

    def test_a_life_beyond_the_search_is_the_longest(self, session):
        first = assessments.search(session, assessments.Filters(), sort="-life", limit=1).items[0]
        assert first.life_years is None

    @pytest.mark.parametrize("bad", ["", "x" * 3000, "e30", "////", "WyJsaWZlIiwgTmFOLCAxXQ"])
    def test_a_made_up_cursor_is_refused(self, session, bad):
        with pytest.raises(QueryError, match="cursor"):
            assessments.search(session, assessments.Filters(), sort="life", cursor=bad)

    @pytest.mark.parametrize(
        ("filters", "sort"),
        [
            (assessments.Filters(), "-created_at"),
            (assessments.Filters(kind="battery"), "life"),
            (assessments.Filters(cell="lfp_naumann_2020"), "cost"),
            (assessments.Filters(strategy="made"), "strategy"),
            (assessments.Filters(life_min_years=2.0, life_max_years=5.0), "cost"),
            (assessments.Filters(cost_max=3.0), "-life"),
        ],
    )
    def test_no_search_walks_the_whole_table(self, session, filters, sort):
        """The plan uses an index for order and the first filter, on SQLite, whose planner says so plainly."""
        if session.get_bind().dialect.name != "sqlite":
            pytest.skip("PostgreSQL rightly walks a table of 43 rows")
        key = assessments.SORTS[sort.removeprefix("-")]
        query = assessments.filtered(filters, ordered_by=sort.removeprefix("-"))
        columns = (key.column, key.identity)
        query = query.order_by(*(one.desc() if sort.startswith("-") else one.asc() for one in columns)).limit(50)
        text = str(query.compile(session.get_bind(), compile_kwargs={"literal_binds": True}))
        plan = "\n".join(row[-1] for row in session.execute(sa.text("EXPLAIN QUERY PLAN " + text)))
        assert "USING INDEX" in plan
        assert "TEMP B-TREE" not in plan, plan


@pytest.mark.parametrize(
    "query",
    [
        "SELECT * FROM assessments ORDER BY created_at DESC, id DESC LIMIT 50",
        "SELECT * FROM assessments WHERE study_id = 's' ORDER BY created_at DESC, id DESC LIMIT 50",
        "SELECT * FROM studies ORDER BY created_at DESC, id DESC LIMIT 50",
        "SELECT * FROM histories ORDER BY created_at DESC, id DESC LIMIT 50",
        "SELECT * FROM assessment_sources WHERE assessment_id = 'a'",
        "SELECT id FROM jobs WHERE state = 'queued' OR (state = 'running' AND heartbeat_at < '2026-01-01')",
        "SELECT * FROM jobs WHERE study_id = 's' AND program_version = '1'",
        "SELECT * FROM parameter_sets WHERE kind = 'battery' AND name = 'x'",
    ],
)
def test_no_list_walks_a_whole_table(session, query):
    if session.get_bind().dialect.name != "sqlite":
        pytest.skip("PostgreSQL rightly walks an empty table")
    plan = "\n".join(row[-1] for row in session.execute(sa.text("EXPLAIN QUERY PLAN " + query)))
    assert "USING INDEX" in plan or "USING COVERING INDEX" in plan, plan
    assert "SCAN jobs\n" not in plan


def test_the_demo_file_is_what_the_record_says(session, store):
    from lifetime.packs.locate import profiles_folder

    folder = profiles_folder() / "demo"
    loaded = load_study(folder / DEMO_FILE)
    row, _ = record_files(session, store, loaded, assess(loaded), folder)
    assert row.title == tomllib.loads((folder / DEMO_FILE).read_text("utf-8"))["title"]
    assert row.strategies == 5


def test_first_letters_of_an_id_are_enough_where_they_fit_one_thing(session):
    plain = {"title": "x", "document": {}, "axes": [], "candidates": 1, "program_version": "0"}
    session.add_all([models.Sweep(id=key, **plain) for key in ("aa1", "aa2", "b%c")])
    session.commit()
    both = (models.Assessment, models.Sweep)
    assert keys.full_id(session, "aa1", *both) == "aa1"
    assert keys.full_id(session, "b%", *both) == "b%c"  # a letter like any other, no pattern
    with pytest.raises(QueryError, match='"aa" begins several: aa1, aa2'):
        keys.full_id(session, "aa", *both)
    for start in ("", "c", "%"):
        with pytest.raises(NotFoundError):
            keys.full_id(session, start, *both)
    with pytest.raises(NotFoundError):
        keys.full_id(session, "aa1", models.Assessment)
