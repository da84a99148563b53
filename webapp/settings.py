"""Every setting of the server in one table; a wrong one stops the start with a sentence.

Each is read from the environment as `SWITCHOVER_` and the name in capitals, for example
`SWITCHOVER_DATABASE_URL`. The command line may override some of them.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, field_validator
from pydantic_settings import (
    BaseSettings,
    NoDecode,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from models.errors import SwitchoverError
from webapp.paths import user_data_folder

PREFIX = "SWITCHOVER_"


class SettingsError(SwitchoverError):
    """A setting that is unknown or cannot be used; the server does not start."""


class Settings(BaseSettings):
    """The settings of one server.

    >>> Settings(database_url="sqlite:///studies.sqlite3").port
    8000
    """

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="forbid", frozen=True)

    database_url: str = Field(
        "", description="Where studies are kept, in SQLAlchemy form; empty: the user's data folder."
    )
    port: int = Field(8000, ge=1, le=65535, description="First port to try on 127.0.0.1.")
    host_names: Annotated[tuple[str, ...], NoDecode] = Field(
        (), description="Names besides localhost under which the server answers, comma-separated."
    )
    base_url: str = Field(
        "", description="Address to put into shared links; empty: the address of the request."
    )
    worker_threads: int = Field(8, ge=1, le=15, description="Requests worked on at a time.")
    max_body_bytes: int = Field(
        16_000_000, ge=100_000, description="Largest request that is read at all."
    )
    log_level: Literal["debug", "info", "warning", "error"] = Field(
        "info",
        description="Least grave thing to log: debug adds static files and health, info requests.",
    )
    log_file: str = Field("", description="File that takes the log; empty: standard error.")

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Take values from the caller only: `read_settings` is what looks at the environment."""
        return (init_settings,)

    @field_validator("host_names", mode="before")
    @classmethod
    def _split_names(cls, given: Any) -> Any:
        if isinstance(given, str):
            return tuple(name.strip().lower() for name in given.split(",") if name.strip())
        return given

    @field_validator("base_url")
    @classmethod
    def _plain_address(cls, given: str) -> str:
        if given and not given.startswith(("http://", "https://")):
            raise ValueError("it has to begin with http:// or https://")
        return given.rstrip("/")

    def database(self) -> str:
        """Return the address of the database, the user's own file where none is named."""
        if self.database_url:
            return self.database_url
        return f"sqlite:///{(user_data_folder() / 'studies.sqlite3').as_posix()}"


def read_settings(environment: Mapping[str, str] | None = None, **overrides: Any) -> Settings:
    """Read the settings from the environment; overrides win, `None` among them does not.

    Raises `SettingsError` with a sentence that names the setting, the value and what is allowed.
    """
    environment = os.environ if environment is None else environment
    known = {PREFIX + name.upper(): name for name in Settings.model_fields}
    given = {name: text for name, text in environment.items() if name.upper().startswith(PREFIX)}
    unknown = sorted(name for name in given if name.upper() not in known)
    if unknown:
        raise SettingsError(
            f"There is no setting {unknown[0]}. Settings are: {', '.join(sorted(known))}."
        )
    values: dict[str, Any] = {known[name.upper()]: text for name, text in given.items()}
    values |= {name: value for name, value in overrides.items() if value is not None}
    try:
        return Settings(**values)
    except ValidationError as error:
        first = error.errors()[0]
        name = PREFIX + str(first["loc"][0]).upper()
        raise SettingsError(
            f"{name} is {first['input']!r}, which cannot be used: {first['msg']}."
        ) from None
