"""Run again, an assessment takes what it was made with: a set that is another today moves no figure and is named."""

import copy
import json
import shutil

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

from lifetime.assessment.run import assess
from lifetime.errors import ProfileError, StudyError
from lifetime.packs import locate
from lifetime.packs.withdrawn import WITHDRAWN
from lifetime.report.html import report_html
from lifetime.study.load import Folder, resolve_study
from webapi import models
from webapi.cli.program import program
from webapi.database import write
from webapi.services import assessments, reruns
from webapi.services.recording import record_files
from webapi.services.shelf import StoreShelf

FUNCTION = "def share(step):\n    return min(step.demand_W, 40e3), step.state\n"


@pytest.fixture
def profiles(tmp_path, monkeypatch):
    """The shipped sets as a copy that a test may change, as a newer version of the program would."""
    folder = tmp_path / "profiles"
    shutil.copytree(locate.profiles_folder(), folder)
    monkeypatch.setattr(locate, "profiles_folder", lambda: folder)
    return folder


def warm_up(profiles, name, by_K):
    path = profiles / "climates" / f"{name}.csv"
    lines = [line.split(",") for line in path.read_text("utf-8").splitlines()]
    warmer = [[one[0], str(float(one[1]) + by_K)] if one[0].isdecimal() else one for one in lines]
    path.write_text("\n".join(",".join(one) for one in warmer) + "\n", encoding="utf-8")


def recorded(session, store, study, folder):
    loaded = resolve_study(study, "demo", Folder(folder))
    row, _ = record_files(session, store, loaded, assess(loaded, in_detail=False), folder)
    return row.id


@pytest.fixture
def small(demo_study):
    """The demo's battery alone."""
    demo_study["strategy"] = demo_study["strategy"][:1]
    return demo_study


def test_a_climate_that_is_warmer_today_moves_no_figure_and_is_named(session, store, small, profiles):
    climate = small["service"]["climate"]
    key = recorded(session, store, small, profiles / "demo")
    assert reruns.rerun(session, store, key).inputs == ()
    warm_up(profiles, climate, 5.0)
    found = reruns.rerun(session, store, key)
    assert found.agrees
    (changed,) = found.inputs
    assert (changed.kind, changed.name, changed.used) == ("climate", climate, "stored")
    assert changed.words == f"The climate set {climate} is another today; the one on record was used."
    # A record that does not have the climate's hash, as packwear 0.1 made them: its temperatures find the text.
    row = session.get(models.Assessment, key, options=[sa.orm.undefer(models.Assessment.document)])
    document = copy.deepcopy(row.document)
    assert document["study"]["service"].pop("climate_sha256") == changed.stored_sha256
    with write(session):
        session.execute(sa.update(models.Assessment).values(document=document))
    session.expire_all()
    again = reruns.rerun(session, store, key)
    assert (again.agrees, again.inputs) == (True, (changed,))
    # Without the text today's has to do, and that is said; the figures move, as the warmer climate wants it.
    with write(session):
        session.execute(sa.delete(models.ParameterSet).where(models.ParameterSet.kind == "climate"))
    session.expire_all()
    lost = reruns.rerun(session, store, key)
    assert not lost.agrees
    assert "may be another today; today's was used" in lost.inputs[0].words


def test_a_cell_that_is_another_today_moves_no_figure_and_is_named(session, store, small, profiles):
    key = recorded(session, store, small, profiles / "demo")
    cell = profiles / "batteries" / f"{small['battery']['cell']}.toml"
    cell.unlink()
    found = reruns.rerun(session, store, key)
    assert found.agrees
    assert [one.words for one in found.inputs] == [
        f"The battery set {small['battery']['cell']} is no longer shipped; the one on record was used."
    ]


def test_a_withdrawn_set_is_read_and_run_again_from_the_record_and_named_by_no_new_study(
    session, store, small, profiles, monkeypatch
):
    batteries = profiles / "batteries"
    shutil.copy(batteries / "nmc_schmalstieg_2014.toml", batteries / "nmc_ev_scaled.toml")
    small["battery"] |= {"cell": "nmc_ev_scaled", "cell_capacity_Ah": 3.0}
    with monkeypatch.context() as before:
        before.delitem(WITHDRAWN, "nmc_ev_scaled")
        key = recorded(session, store, small, profiles / "demo")
    (batteries / "nmc_ev_scaled.toml").unlink()
    found = reruns.rerun(session, store, key)
    assert found.agrees
    assert [one.words for one in found.inputs] == [
        "The battery set nmc_ev_scaled is withdrawn; the one on record was used."
    ]
    document = assessments.document_of(assessments.get(session, key))
    assert "Withdrawn since." in report_html(document)
    kept = session.scalars(sa.select(models.ParameterSet).where(models.ParameterSet.name == "nmc_ev_scaled")).one()
    for name in ("nmc_ev_scaled", kept.sha256):
        shelf = StoreShelf.for_document(session, store, {"battery": {"cell": name}})
        with pytest.raises(ProfileError, match="is withdrawn: it was nmc_schmalstieg_2014 times two factors"):
            shelf.cell(name, "battery")


def test_a_set_whose_text_was_changed_in_the_database_is_not_used(session, store, small, profiles):
    key = recorded(session, store, small, profiles / "demo")
    with write(session):
        row = session.scalars(sa.select(models.ParameterSet).where(models.ParameterSet.kind == "climate")).one()
        row.document = row.document.replace("2", "3")
    with pytest.raises(StudyError, match="its text in the database has changed"):
        reruns.rerun(session, store, key)


def test_a_users_function_is_run_again_only_where_its_file_is_unchanged(session, store, demo_study, tmp_path):
    folder = locate.profiles_folder() / "demo"
    shutil.copy(folder / "yard_shift.csv", tmp_path)
    file = tmp_path / "mine.py"
    file.write_text(FUNCTION, encoding="utf-8")
    demo_study["strategy"] = demo_study["strategy"][1:2]
    demo_study["strategy"][0]["split"] = {"rule": "function", "file": "mine.py", "name": "share"}
    key = recorded(session, store, demo_study, tmp_path)
    assert reruns.rerun(session, store, key, tmp_path).agrees
    with pytest.raises(StudyError, match="not run by the service"):
        reruns.rerun(session, store, key)
    mark = tmp_path / "was_run"
    file.write_text(f"open({str(mark)!r}, 'w').close()\n{FUNCTION}", encoding="utf-8")
    with pytest.raises(StudyError, match="not the one that the record was made with"):
        reruns.rerun(session, store, key, tmp_path)
    assert not mark.exists()
    file.unlink()
    with pytest.raises(StudyError, match="cannot be read"):
        reruns.rerun(session, store, key, tmp_path)


def test_the_command_tells_which_input_differs(session, store, small, profiles, database_url, tmp_path, monkeypatch):
    key = recorded(session, store, small, profiles / "demo")
    warm_up(profiles, small["service"]["climate"], 5.0)
    monkeypatch.setenv("PACKWEAR_DATABASE_URL", database_url)
    monkeypatch.setenv("PACKWEAR_STORE_URL", str(tmp_path / "store"))
    done = CliRunner().invoke(program(), ["record", "rerun", key, "--json"])
    assert done.exit_code == 0, done.output
    (told,) = json.loads(done.output)["inputs"]
    assert (told["name"], told["used"]) == (small["service"]["climate"], "stored")
    words = " ".join(CliRunner().invoke(program(), ["record", "rerun", key]).output.split())
    assert words.startswith(f"The climate set {small['service']['climate']} is another today")
    assert "figures agree" in words
