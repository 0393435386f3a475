"""Settings of one deployment: the environment, read once into one frozen object."""

from __future__ import annotations

import os
import re
from decimal import Decimal
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, ValidationError, field_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

PREFIX = "GRAFTSTAGE_"
EXAMPLE_BASE = "https://graftstage.example/fhir"
EXAMPLE_ZONE = "UTC"
SHIPPED = "shipped"
DATABASE_IN_STATE_FOLDER = "state"
DATABASE_IN_MEMORY = "memory"
_HOST = re.compile(r"[A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\]")
_ORIGIN = re.compile(r"https?://[^\s/]+|\*")


class SettingsFault(Exception):
    """The environment holds a setting that is unknown or cannot be used. Names no value."""


class Settings(BaseSettings):
    """Everything that a deployment decides. Each is ``GRAFTSTAGE_`` and the name in capitals.

    ``canonical_base`` starts every canonical URL and identifier system of the service;
    ``time_zone`` (IANA) says on which calendar day an instant falls when a request does not;
    ``code_map`` is a file that replaces the code map that is shipped; ``max_body_bytes`` caps one request;
    ``concurrent_plans`` are made at once and ``waiting_plans`` may wait, further ones are told to come back;
    ``body_seconds`` is the time that a body may take to arrive; ``allowed_hosts`` lists the host names that callers
    may use, any by default, for no answer repeats one; ``cors_origins`` lists the web origins that may call, none
    by default;
    ``database`` is ``state`` for a SQLite file in the state folder of the account, ``memory``, a file, or the URL
    of a PostgreSQL database.
    ``hook_seconds`` is the search time of a first plan for a card; ``card_change_percent`` is the change of the skin
    to harvest from which a session that has been told is told again.
    """

    model_config = SettingsConfigDict(env_prefix=PREFIX, frozen=True, hide_input_in_errors=True)

    host: str = "127.0.0.1"
    port: int = Field(default=8000, ge=0, le=65535)
    canonical_base: str = Field(default=EXAMPLE_BASE, pattern=r"^https?://[^\s/]+(/[^\s/]+)*$")
    time_zone: str = EXAMPLE_ZONE
    code_map: str = SHIPPED
    max_body_bytes: int = Field(default=8_000_000, ge=1_000)
    concurrent_plans: int = Field(default=2, ge=1)
    waiting_plans: int = Field(default=32, ge=0)
    body_seconds: float = Field(default=20, gt=0)
    allowed_hosts: Annotated[tuple[str, ...], NoDecode] = ()
    cors_origins: Annotated[tuple[str, ...], NoDecode] = ()
    database: str = DATABASE_IN_STATE_FOLDER
    hook_seconds: Decimal = Field(default=Decimal("0.2"), ge=Decimal("0.05"), le=10)
    card_change_percent: Decimal = Field(default=Decimal(25), ge=0, le=1000)

    @field_validator("time_zone")
    @classmethod
    def _is_iana_zone(cls, name: str) -> str:
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError) as error:
            raise ValueError("not an IANA time zone") from error
        return name

    @field_validator("cors_origins", mode="before")
    @classmethod
    def _split_origins(cls, text: str | tuple[str, ...]) -> tuple[str, ...]:
        origins = tuple(text.split()) if isinstance(text, str) else text
        if not all(_ORIGIN.fullmatch(origin) for origin in origins):
            raise ValueError("origins such as https://records.example.org, parted by spaces")
        return origins

    @field_validator("allowed_hosts", mode="before")
    @classmethod
    def _split_hosts(cls, text: str | tuple[str, ...]) -> tuple[str, ...]:
        hosts = tuple(text.split()) if isinstance(text, str) else text
        if not all(_HOST.fullmatch(host) for host in hosts):
            raise ValueError("host names without port, parted by spaces")
        return hosts

    @property
    def warnings(self) -> tuple[str, ...]:
        """What an operator should be told at the start."""
        warnings = []
        if self.canonical_base == EXAMPLE_BASE:
            warnings.append(f"{PREFIX}CANONICAL_BASE is not set: identifiers are issued under {EXAMPLE_BASE}")
        if "time_zone" not in self.model_fields_set:
            warnings.append(f"{PREFIX}TIME_ZONE is not set: days are counted in {EXAMPLE_ZONE}")
        if self.database == DATABASE_IN_MEMORY:
            warnings.append(f"{PREFIX}DATABASE is in memory: the audit trail ends with the process")
        return tuple(warnings)


def state_folder() -> Path:
    """Where this account keeps what programs remember from one run to the next."""
    home = os.environ.get("XDG_STATE_HOME", "")
    return (Path(home) if Path(home).is_absolute() else Path.home() / ".local" / "state") / "graftstage"


def mask_password(url: str) -> str:
    """A database setting as it may be printed."""
    parts = urlsplit(url)
    if not parts.password and "password" not in parts.query:
        return url
    address = parts.netloc.rpartition("@")[2]
    return parts._replace(netloc=f"{parts.username or ''}:***@{address}", query="").geturl()


def load_settings() -> Settings:
    """Settings from the environment.

    Raises ``SettingsFault`` naming every setting that is unknown or unusable: a misspelt name
    must not leave a default in force unseen.
    """
    known = {PREFIX + field.upper() for field in Settings.model_fields}
    unknown = sorted(n for n in os.environ if n.upper().startswith(PREFIX) and n.upper() not in known)
    if unknown:
        raise SettingsFault(f"unknown settings: {', '.join(unknown)}; known are {', '.join(sorted(known))}")
    try:
        return Settings()
    except ValidationError as error:
        faults = error.errors(include_input=False, include_url=False, include_context=False)
        named = ", ".join(f"{PREFIX}{str(f['loc'][0]).upper()} ({f['msg']})" for f in faults)
        raise SettingsFault(f"unusable settings: {named}") from None
