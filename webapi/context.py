"""What a request can reach: settings, database, store, limits."""

from dataclasses import dataclass, field
from pathlib import Path

from flask import current_app
from sqlalchemy import Engine
from sqlalchemy.orm import Session, sessionmaker

from webapi.database import engine_from, session_factory
from webapi.limits import RateLimit
from webapi.settings import Settings
from webapi.store import HistoryStore, open_store


@dataclass(frozen=True, slots=True)
class Context:
    """Everything the web process holds open.

    Args:
        settings: The settings it was started with.
        engine: The database.
        factory: Makes sessions.
        store: Where the histories' numbers are.
        uploads: Limit on uploads.
        submissions: Limit on submissions.
        checks: Limit on checks of a study, which anybody may ask for who may read.
    """

    settings: Settings
    engine: Engine
    factory: sessionmaker[Session]
    store: HistoryStore
    uploads: RateLimit = field(repr=False)
    submissions: RateLimit = field(repr=False)
    checks: RateLimit = field(repr=False)

    @classmethod
    def open(cls, settings: Settings, limits_file: Path | None = None) -> "Context":
        """Open what the settings name.

        Args:
            settings: The settings.
            limits_file: Where several web processes count what callers do; None counts in this one alone.
        """
        engine = engine_from(settings)
        return cls(
            settings,
            engine,
            session_factory(engine),
            open_store(settings.store_url),
            RateLimit(settings.uploads_per_minute, "uploads", limits_file),
            RateLimit(settings.submissions_per_minute, "submissions", limits_file),
            RateLimit(settings.submissions_per_minute, "checks", limits_file),
        )


def context() -> Context:
    """The context of the running application."""
    found: Context = current_app.extensions["packwear"]
    return found


def session() -> Session:
    """A new session; the caller closes it."""
    return context().factory()
