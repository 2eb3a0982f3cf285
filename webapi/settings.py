"""Settings, from environment variables that begin with ``PACKWEAR_``; nothing is read at import.

The README lists every one of them with its meaning.
"""

import ipaddress
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, SecretStr, ValidationError, field_validator

from lifetime.errors import InputError
from lifetime.validation import InvalidValue, invalid_values

PREFIX = "PACKWEAR_"
_RATIO_FLOOR_BYTES = 100_000_000
"""Below this, a file that packs well is no danger: constant columns are common in honest logs."""

Bytes = Annotated[int, Field(ge=1)]


class SettingsError(InputError):
    """An environment variable holds something that is no setting."""


@dataclass(frozen=True, slots=True)
class UploadLimits:
    """What an uploaded history may measure.

    Args:
        file_bytes: Size of the file [byte].
        unpacked_bytes: Size once unpacked to 64-bit numbers and text [byte].
        unpacked_ratio: Unpacked size over file size, where more than 100 MB are unpacked.
        columns: Number of columns.
        name_characters: Length of a column name.
        text_bytes: Length of one field of text [byte].
    """

    file_bytes: int = 500_000_000
    unpacked_bytes: int = 4_000_000_000
    unpacked_ratio: float = 50.0
    columns: int = 1_000
    name_characters: int = 500
    text_bytes: int = 10_000

    def most_unpacked(self, file_bytes: int) -> int:
        """Largest unpacked size allowed to a file [byte].

        Args:
            file_bytes: Its own size [byte].
        """
        by_ratio = max(_RATIO_FLOOR_BYTES, int(self.unpacked_ratio * file_bytes))
        return min(self.unpacked_bytes, by_ratio)


@dataclass(frozen=True, slots=True)
class ReadingLimits:
    """What the process that reads an uploaded history may take.

    Args:
        seconds: Processor time [s]; twice that may pass on the clock.
        memory_bytes: Address space [byte].
    """

    seconds: float = 300.0
    memory_bytes: int = 4_000_000_000


@dataclass(frozen=True, slots=True)
class StudyLimits:
    """What a study may ask for.

    Args:
        strategies: Number of strategies.
        histories: Number of different history entries; two columns of one file are two.
        rows: Rows to be read for all these entries together.
    """

    strategies: int = 50
    histories: int = 60
    rows: int = 100_000_000


@dataclass(frozen=True, slots=True)
class JobLimits:
    """What the process that assesses a study may take.

    Args:
        seconds: Time by the clock [s].
        memory_bytes: Address space [byte].
    """

    seconds: float = 3_600.0
    memory_bytes: int = 4_000_000_000

    @property
    def memory_MiB(self) -> int:
        """The memory in the unit that messages use."""
        return self.memory_bytes >> 20


def _usual_web_processes() -> int:
    """One for each processor, 2 to 4; on Windows one, because processes there share no listening socket."""
    return 1 if sys.platform == "win32" else min(4, max(2, os.cpu_count() or 1))


class Settings(BaseModel):
    """Everything that can be set; see the table at the top of this module."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    database_url: str
    store_url: str
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65_535)] = 8080
    require_token: bool = False
    trusted_proxies: str = ""
    secret_key: SecretStr | None = None
    upload_bytes: Bytes = 500_000_000
    unpacked_bytes: Bytes = 4_000_000_000
    unpacked_ratio: Annotated[float, Field(ge=1.0)] = 50.0
    upload_columns: Annotated[int, Field(ge=2)] = 1_000
    reading_s: Annotated[float, Field(ge=1.0, le=86_400.0)] = 300.0
    reading_bytes: Annotated[int, Field(ge=1_000_000_000)] = 4_000_000_000
    study_bytes: Bytes = 1_000_000
    study_strategies: Annotated[int, Field(ge=1)] = 50
    study_histories: Annotated[int, Field(ge=1)] = 60
    study_rows: Annotated[int, Field(ge=1)] = 100_000_000
    job_s: Annotated[float, Field(ge=1.0, le=1_000_000.0)] = 3_600.0
    job_bytes: Annotated[int, Field(ge=1_500_000_000)] = 4_000_000_000
    uploads_per_minute: Annotated[int, Field(ge=1)] = 30
    submissions_per_minute: Annotated[int, Field(ge=1)] = 60
    web_processes: Annotated[int, Field(ge=1, le=64)] = Field(default_factory=_usual_web_processes)
    stop_s: Annotated[float, Field(gt=0.0, le=3_600.0)] = 30.0
    busy_timeout_s: Annotated[float, Field(gt=0.0, le=600.0)] = 15.0
    stale_job_s: Annotated[float, Field(gt=0.0, le=86_400.0)] = 60.0
    log_level: Literal["debug", "info", "warning", "error"] = "info"

    @field_validator("trusted_proxies")
    @classmethod
    def _are_addresses(cls, value: str) -> str:
        for one in value.split(","):
            try:
                ipaddress.ip_network(one.strip() or "::1")
            except ValueError:
                raise ValueError("must be addresses or networks such as 127.0.0.1, 10.0.0.0/8") from None
        return value.strip(" ,")

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> "Settings":
        """Read the settings.

        Args:
            environment: Variables to read instead of the process's own.

        Raises:
            SettingsError: A value is not what its variable expects; every fault is listed.
        """
        given = os.environ if environment is None else environment
        values = {
            name: given[PREFIX + name.upper()] for name in cls.model_fields if given.get(PREFIX + name.upper(), "")
        }
        if "database_url" not in values or "store_url" not in values:
            folder = data_folder()
            values.setdefault("database_url", f"sqlite:///{folder / 'packwear.db'}")
            values.setdefault("store_url", str(folder / "histories"))
        try:
            return cls.model_validate(values)
        except ValidationError as error:
            raise SettingsError("\n".join(_fault(invalid) for invalid in invalid_values(error))) from None

    @property
    def is_embedded(self) -> bool:
        """True where the database is an SQLite file of this machine."""
        return self.database_url.startswith("sqlite")

    @property
    def is_loopback(self) -> bool:
        """True where only this machine can reach the web server."""
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return self.host == "localhost"

    @property
    def needs_token(self) -> bool:
        """True where every request must carry a token."""
        return self.require_token or bool(self.trusted_proxies) or not (self.is_loopback and self.is_embedded)

    @property
    def proxy_networks(self) -> tuple[ipaddress.IPv4Network | ipaddress.IPv6Network, ...]:
        """Networks of the proxies that are believed."""
        return tuple(ipaddress.ip_network(one.strip()) for one in self.trusted_proxies.split(",") if one.strip())

    @property
    def upload_limits(self) -> UploadLimits:
        """What an uploaded history may measure."""
        return UploadLimits(self.upload_bytes, self.unpacked_bytes, self.unpacked_ratio, self.upload_columns)

    @property
    def reading_limits(self) -> ReadingLimits:
        """What reading an uploaded history may take."""
        return ReadingLimits(self.reading_s, self.reading_bytes)

    @property
    def study_limits(self) -> StudyLimits:
        """What a study may ask for."""
        return StudyLimits(self.study_strategies, self.study_histories, self.study_rows)

    @property
    def job_limits(self) -> JobLimits:
        """What assessing a study may take."""
        return JobLimits(self.job_s, self.job_bytes)


def data_folder() -> Path:
    """The user's data folder for this program; not created."""
    from platformdirs import user_data_path  # noqa: PLC0415 - only where nothing else is set

    return user_data_path("packwear", appauthor=False)


def _fault(invalid: InvalidValue) -> str:
    # The value itself stays out of the message: it may be a secret or hold a password.
    return f"{PREFIX}{str(invalid.place[0]).upper()} {invalid.message}. Correct or unset the variable."
