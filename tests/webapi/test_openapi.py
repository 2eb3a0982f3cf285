"""Generated requests over the whole description find no server error, and answers keep to it."""

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error

from webapi.app import create_app
from webapi.settings import Settings


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
