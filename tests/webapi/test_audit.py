"""Deleting with an audit trail: who may, what is refused, what is left, and what a crash leaves behind."""

import pytest

from webapi.database import session_factory
from webapi.models import History, UnremovedFile
from webapi.services import deletion, histories, tokens
from webapi.settings import UploadLimits

API = "/api/v1"


@pytest.fixture
def stored(factory, uploaded):
    """The stored file's key of the uploaded history."""
    with factory() as session:
        return histories.get(session, uploaded).store_key


def trail(client):
    items = client.get(f"{API}/audit").json["items"]
    return [(one["action"], one["subject"], one["title"]) for one in items if one["subject"] != "token"]


def test_the_trail_says_who_did_what(client, app, factory, service_study, work, uploaded):
    job = client.post(f"{API}/studies", json=service_study).json
    client.post(f"{API}/studies", json=service_study)
    client.post(f"{API}/jobs/{job['id']}/cancel")
    client.post(f"{API}/studies", json=service_study)
    work()
    key = client.get(f"{API}/jobs/{job['id']}").json["assessment_id"]
    assert client.delete(f"{API}/assessments/{key}").status_code == 204
    title = service_study["title"]
    assert trail(client) == [
        ("deleted", "assessment", title),
        ("submitted", "study", title),
        ("cancelled", "job", title),
        ("submitted", "study", title),
        ("uploaded", "history", "yard_shift.csv"),
    ]
    newest = client.get(f"{API}/audit?limit=1").json
    expected = ("local", None) if app.test_token is None else ("tests", app.test_token.split("_")[1])
    assert (newest["items"][0]["who"], newest["items"][0]["token_id"]) == expected
    older = client.get(f"{API}/audit?limit=1&cursor={newest['next_cursor']}").json["items"][0]
    assert (older["action"], older["id"]) == ("submitted", newest["items"][0]["id"] - 1)
    page = client.get("/audit").text
    assert "deleted assessment" in page
    assert "yard_shift.csv" in page
    with factory() as session:
        row, _ = tokens.create(session, "bench", "reader")
        tokens.revoke(session, row.id)
        tokens.revoke(session, row.id)
    items = [one for one in client.get(f"{API}/audit").json["items"] if one["subject_id"] == row.id]
    assert [(one["action"], one["title"], one["who"]) for one in items] == [
        ("revoked", "bench (reader)", "local"),
        ("created", "bench (reader)", "local"),
    ]


def test_a_history_is_kept_while_something_needs_it(client, service_study, work, uploaded, store, stored):
    job = client.post(f"{API}/studies", json=service_study).json["id"]
    waiting = client.delete(f"{API}/histories/{uploaded}")
    assert waiting.status_code == 409
    assert job in waiting.json["detail"]
    work()
    key = client.get(f"{API}/jobs/{job}").json["assessment_id"]
    needed = client.delete(f"{API}/histories/{uploaded}")
    assert needed.status_code == 409
    assert key in needed.json["detail"]
    assert service_study["title"] in needed.json["detail"]
    assert client.delete(f"{API}/assessments/{key}").status_code == 204
    assert client.get(f"{API}/assessments/{key}").status_code == 404
    assert client.get(f"{API}/assessments").json["items"] == []
    again = client.post(f"{API}/studies", json=service_study)
    assert again.status_code == 202, "what was deleted can be made again"
    work()
    assert client.get(f"{API}/jobs/{again.json['id']}").json["assessment_id"] == key
    assert client.delete(f"{API}/assessments/{key}").status_code == 204
    assert store.condition(stored) == "sound"
    assert client.delete(f"{API}/histories/{uploaded}").status_code == 204
    assert store.condition(stored) == "missing"
    assert client.get(f"{API}/histories/{uploaded}").status_code == 404
    assert client.delete(f"{API}/histories/{uploaded}").status_code == 404


def test_a_study_survives_its_history_and_heals_with_it(client, service_study, work, uploaded, demo_csv):
    job = client.post(f"{API}/studies", json=service_study).json
    client.post(f"{API}/jobs/{job['id']}/cancel")
    assert client.delete(f"{API}/histories/{uploaded}").status_code == 204
    assert client.get(f"/studies/{job['study_id']}").status_code == 200
    assert "no history is stored" in client.post(f"{API}/studies", json=service_study).text
    assert client.post(f"{API}/histories?name=again.csv", data=demo_csv).status_code == 201
    assert client.post(f"{API}/studies", json=service_study).status_code == 202
    assert work() == [True]


def test_a_crash_between_row_and_file_leaves_no_row_and_the_next_start_removes_the_file(
    factory, store, uploaded, stored, monkeypatch, settings
):
    from webapi import serve

    def crash(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(deletion, "remove_files", crash)
    with factory() as session, pytest.raises(KeyboardInterrupt):
        deletion.delete_history(session, store, uploaded)
    monkeypatch.undo()
    with factory() as session:
        assert session.get(History, uploaded) is None
    assert store.condition(stored) == "sound"
    serve._clean(settings, store)
    assert store.condition(stored) == "missing"
    with factory() as session:
        assert session.query(UnremovedFile).count() == 0


def test_a_file_uploaded_again_meanwhile_is_kept(factory, store, uploaded, stored, demo_csv, tmp_path, monkeypatch):
    """Between the commit that deletes the row and the removal of the file somebody uploads the same content."""
    real = deletion.remove_files
    path = tmp_path / "again.csv"
    path.write_bytes(demo_csv)

    def upload_first(session, store):
        with factory() as other:
            histories.add_upload(other, store, path, "again.csv", UploadLimits())
        return real(session, store)

    monkeypatch.setattr(deletion, "remove_files", upload_first)
    with factory() as session:
        deletion.delete_history(session, store, uploaded)
        assert session.get(History, uploaded, populate_existing=True).file_name == "again.csv"
        assert session.query(UnremovedFile).count() == 0
    assert store.condition(stored) == "sound"


def test_an_upload_whose_file_is_removed_under_it_keeps_it_again(factory, store, demo_csv, tmp_path, monkeypatch):
    path = tmp_path / "a.csv"
    path.write_bytes(demo_csv)
    real, puts = type(store).put, []

    def put(self, source, key):
        real(self, source, key)
        puts.append(key)
        if len(puts) == 1:
            self.remove(key)

    monkeypatch.setattr(type(store), "put", put)
    with factory() as session:
        row, new = histories.add_upload(session, store, path, "a.csv", UploadLimits())
    assert new
    assert len(puts) == 2
    assert store.condition(row.store_key) == "sound"


def test_only_administrators_delete_and_read_the_trail(app, engine, assessed, uploaded):
    made = app.test_client()
    with session_factory(engine)() as session:
        _, secret = tokens.create(session, "analyst", "analyst")
    made.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    answers = [
        made.delete(f"{API}/histories/{uploaded}"),
        made.delete(f"{API}/assessments/{assessed}"),
        made.get(f"{API}/audit"),
        made.get("/audit"),
        made.post(f"/histories/{uploaded}/delete"),
        made.post(f"/assessments/{assessed}/delete"),
    ]
    assert [one.status_code for one in answers] == [403] * len(answers)
    assert "Delete the history" not in made.get(f"/histories/{uploaded}").text


def test_the_pages_delete_too(client, app, assessed, uploaded):
    """Sent as a form of the page itself, with its proof."""
    import re

    def sent(page, address):
        text = client.get(page).text
        assert f'action="{address}"' in text
        return client.post(address, data={"csrf": re.search(r'name="csrf" value="([^"]+)"', text)[1]})

    refused = sent(f"/histories/{uploaded}", f"/histories/{uploaded}/delete")
    assert refused.status_code == 409
    assert assessed in refused.text
    assert sent(f"/assessments/{assessed}", f"/assessments/{assessed}/delete").status_code == 302
    assert sent(f"/histories/{uploaded}", f"/histories/{uploaded}/delete").location == "/histories"
