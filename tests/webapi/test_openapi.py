"""Generated requests over the whole description find no server error, and answers keep to it."""

import json
from pathlib import Path

import jsonschema_rs
import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error

from lifetime.results.upgrade import upgrade
from webapi.app import create_app
from webapi.settings import Settings

STORED = Path(__file__).parents[1] / "results" / "version_1"


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    folder = tmp_path_factory.mktemp("described")
    app = create_app(
        Settings(
            database_url=f"sqlite:///{folder / 'x.db'}",
            store_url=str(folder / "store"),
            uploads_per_minute=100_000,
            submissions_per_minute=100_000,
        )
    )
    yield schemathesis.openapi.from_wsgi("/api/openapi.json", app)
    app.extensions["packwear"].engine.dispose()


def test_every_answer_is_described(described):
    """No answer is a JSON object of which nothing is said."""
    spec = described.raw_schema
    schemas = spec["components"]["schemas"]
    for path, methods in spec["paths"].items():
        for method, operation in methods.items():
            for status, answer in operation["responses"].items():
                for content in answer.get("content", {}).values():
                    schema = content["schema"]
                    name = schema.get("$ref", "").rsplit("/", 1)[-1]
                    described_as = schemas[name] if name else schema
                    assert described_as.get("properties"), (method, path, status)
                    assert described_as.get("additionalProperties") is not True, (method, path, status)
    nested = {name.rsplit(".", 1)[-1] for name in schemas}
    assert {"StrategyView", "BatteryView", "Cost", "NoCost", "DayView", "StoredRow"} <= nested
    assert "#/$defs" not in json.dumps(spec)


def test_a_stored_assessment_keeps_to_its_description(described):
    """The answer's own schema, cut out of the description, allows what version 1 stored."""
    spec = described.raw_schema
    row = json.loads((STORED / "histories.json").read_text(encoding="utf-8"))["assessments"][0]
    document = upgrade({"document": row["document"], "detail": row["detail"]})
    told = {**json.loads(document.to_json()), "study_id": "s", "created_at": "2026-01-31T00:00:00Z"}
    schema = {"$ref": "#/components/schemas/AssessmentOut", "components": spec["components"]}
    jsonschema_rs.Draft202012Validator(schema).validate(told)
    assert not jsonschema_rs.Draft202012Validator(schema).is_valid({**told, "strategies": [{}]})


def test_no_server_error(described):
    """Every operation, thirty requests each with right and wrong values."""
    operations = [found.ok() for found in described.get_all_operations()]
    assert len(operations) >= 14
    for operation in operations:
        _try(operation)


def _try(operation):
    @settings(
        max_examples=30,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def requests(case):
        answer = case.call()
        case.validate_response(answer, checks=[not_a_server_error])
        if answer.status_code >= 400:
            assert answer.headers["content-type"][0].startswith("application/problem+json")

    requests()
