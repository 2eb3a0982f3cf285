"""What the API sends of sources is what the database holds, field by field, in the shape that it describes."""

from webapi import models
from webapi.api.shapes import SearchPage
from webapi.services.assessments import flat_row

API = "/api/v1"


def test_a_searched_row_is_the_stored_one(client, assessed, session):
    stored = {}
    for row in session.query(models.AssessmentSource):
        stored[row.strategy, row.kind] = flat_row(row).model_dump(mode="json")
    for path in ("assessments?sort=cost", "life-table"):
        page = client.get(f"{API}/{path}").json
        SearchPage.model_validate(page)
        found = {(row["strategy"], row["source"]): row for row in page["items"]}
        assert found == stored
        assert list(page["items"][0]) == list(flat_row(row).model_dump())
    assert {row["assessment_id"] for row in stored.values()} == {assessed}
    csv = client.get(f"{API}/life-table?format=csv").text.splitlines()
    assert csv[1].split(",")[-1] == next(iter(found.values()))["created_at_utc"]


def test_a_body_that_never_changes_is_made_once(client, assessed, app, monkeypatch):
    from webapi.services import assessments

    first = client.get(f"{API}/assessments/{assessed}")
    assert first.status_code == 200
    monkeypatch.setattr(assessments, "document_of", None)
    second = client.get(f"{API}/assessments/{assessed}")
    assert second.data == first.data
    assert second.json["study_id"]
    third = client.get(f"{API}/assessments/{assessed}", headers={"If-None-Match": first.headers["ETag"]})
    assert (third.status_code, third.data, third.headers["ETag"]) == (304, b"", first.headers["ETag"])
    with app.extensions["packwear"].factory() as session:
        session.query(models.AssessmentSource).delete()
        session.query(models.Job).delete()
        session.query(models.Assessment).delete()
        session.commit()
    assert client.get(f"{API}/assessments/{assessed}").status_code == 404, "what is deleted is not sent from memory"


def test_kept_bodies_take_bounded_room():
    """32 MB: of four bodies of 10 MB the one asked for longest ago is made again."""
    from webapi.api.bodies import Bodies

    bodies, made = Bodies(), []

    def make(tag):
        made.append(tag)
        return bytes(10_000_000)

    for tag in ("a", "b", "c", "a", "d", "c", "a", "b"):
        bodies.body(tag, lambda tag=tag: make(tag))
    assert made == ["a", "b", "c", "d", "b"]
