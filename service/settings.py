"""Settings of one deployment: the environment, read once into one frozen object."""

from __future__ import annotations

import os
import re
from decimal import Decimal
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated, NamedTuple, Self
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, ValidationError, field_validator, model_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

PREFIX = "GRAFTSTAGE_"
EXAMPLE_BASE = "https://graftstage.example/fhir"
EXAMPLE_ZONE = "UTC"
SHIPPED = "shipped"
NO_ORDER_MAP = "none"
DATABASE_IN_STATE_FOLDER = "state"
DATABASE_IN_MEMORY = "memory"
_HOST = re.compile(r"[A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\]")
_LANGUAGE = re.compile(r"[a-z]{2,3}")
_ORIGIN = re.compile(r"https?://[^\s/]+|\*")
_BASE = re.compile(r"https?://[^\s/?#@\\]+(/[^\s/?#\\]+)*")
_URL = re.compile(r"https?://[^\s/?#@\\]+([/?][^\s#\\]*)?")
_KEY_FILE = re.compile(r"file:///[^\s?#]+")
WITHOUT_TOKENS = "No tokens are asked for: whoever reaches the service is answered"


class SettingsFault(Exception):
    """The environment holds a setting that is unknown or cannot be used. Names no value."""


class TrustedIssuer(NamedTuple):
    """Whose tokens are taken: the claim ``iss``, and the only addresses that its keys are read from."""

    name: str
    key_urls: tuple[str, ...]


class Settings(BaseSettings):
    """Everything that a deployment decides. Each is ``GRAFTSTAGE_`` and the name in capitals.

    ``canonical_base`` starts every canonical URL and identifier system of the service;
    ``time_zone`` (IANA) says on which calendar day an instant falls when a request does not;
    ``code_map`` is a file that replaces the code map that is shipped; ``max_body_bytes`` caps one request;
    ``concurrent_plans`` are made at once and ``waiting_plans`` may wait, further ones are told to come back;
    ``body_seconds`` is the time that a body may take to arrive; ``allowed_hosts`` lists the host names that callers
    may use, any by default, for no answer repeats one; ``cors_origins`` lists the web origins that may call, none
    by default; ``languages`` switches on further languages of the pages, none of them clinically reviewed;
    ``database`` is ``state`` for a SQLite file in the state folder of the account, ``memory``, a file, or the URL
    of a PostgreSQL database; ``keep_plan_hours`` says for how long a request is kept with its plan, 0 for not at all.
    ``hook_seconds`` is the search time of a first plan for a card; ``card_change_percent`` is the change of the skin
    to harvest from which a session that has been told is told again; ``order_map`` is a file of the order codes of the
    site, without which orders are not checked.

    ``public_base`` is the address of the service as callers write it, without ``/fhir``: tokens name it, answers never
    learn it from a request. ``access_token_issuers`` and ``hook_clients`` list whose tokens open ``/fhir`` and
    ``/cds-services``, each as ``issuer=address-of-its-keys``, parted by spaces; an issuer with two addresses is listed
    twice, and ``file:///path`` is a key set on this machine. Once one of them is set, tokens are asked for everywhere.
    ``token_endpoint`` is where callers get access tokens; ``longest_token_seconds`` is the longest life that a token
    may have. ``development_without_tokens`` lets the service listen beyond loopback without tokens.

    ``record_servers`` lists the FHIR base addresses that may be called back for data that a hook did not bring, none
    by default. ``record_client_id``, ``record_key_file`` (a private key as JWK or PEM) and ``record_token_endpoint``
    are the service's own way in, for hooks that bring no token.
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
    languages: Annotated[tuple[str, ...], NoDecode] = ()
    database: str = Field(default=DATABASE_IN_STATE_FOLDER, repr=False)  # may hold a password
    hook_seconds: Decimal = Field(default=Decimal("0.2"), ge=Decimal("0.05"), le=10)
    order_map: str = NO_ORDER_MAP
    card_change_percent: Decimal = Field(default=Decimal(25), ge=0, le=1000)
    keep_plan_hours: float = Field(default=0, ge=0, le=720)
    public_base: str = ""
    access_token_issuers: Annotated[tuple[TrustedIssuer, ...], NoDecode] = ()
    hook_clients: Annotated[tuple[TrustedIssuer, ...], NoDecode] = ()
    token_endpoint: str = ""
    longest_token_seconds: int = Field(default=3_600, ge=60)
    development_without_tokens: bool = False
    record_servers: Annotated[tuple[str, ...], NoDecode] = ()
    record_client_id: str = ""
    record_key_file: str = ""
    record_token_endpoint: str = ""

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

    @field_validator("languages", mode="before")
    @classmethod
    def _split_languages(cls, text: str | tuple[str, ...]) -> tuple[str, ...]:
        codes = tuple(text.split()) if isinstance(text, str) else text
        if not all(_LANGUAGE.fullmatch(code) for code in codes):
            raise ValueError("language codes such as de, parted by spaces")
        return codes

    @field_validator("allowed_hosts", mode="before")
    @classmethod
    def _split_hosts(cls, text: str | tuple[str, ...]) -> tuple[str, ...]:
        hosts = tuple(text.split()) if isinstance(text, str) else text
        if not all(_HOST.fullmatch(host) for host in hosts):
            raise ValueError("host names without port, parted by spaces")
        return hosts

    @field_validator("access_token_issuers", "hook_clients", mode="before")
    @classmethod
    def _split_issuers(cls, text: str | tuple[TrustedIssuer, ...]) -> tuple[TrustedIssuer, ...]:
        if not isinstance(text, str):
            return text
        urls: dict[str, list[str]] = {}
        for pair in text.split():
            issuer, _, url = pair.partition("=")
            if not (issuer and (is_safe_url(url) or _KEY_FILE.fullmatch(url))):
                raise ValueError(
                    "issuer=address-of-its-keys, parted by spaces; https beyond loopback, or file:///path/to/keys")
            urls.setdefault(issuer, []).append(url)
        return tuple(TrustedIssuer(issuer, tuple(key_urls)) for issuer, key_urls in urls.items())

    @field_validator("record_servers", mode="before")
    @classmethod
    def _split_servers(cls, text: str | tuple[str, ...]) -> tuple[str, ...]:
        servers = tuple(text.split()) if isinstance(text, str) else text
        if not all(_BASE.fullmatch(server) and is_safe_url(server) for server in servers):
            raise ValueError("FHIR base addresses without a slash at the end, parted by spaces; https beyond loopback")
        return servers

    @field_validator("public_base")
    @classmethod
    def _is_base(cls, text: str) -> str:
        if text and not _BASE.fullmatch(text):
            raise ValueError("an address such as https://plans.example.org, without a slash at the end")
        return text

    @field_validator("token_endpoint", "record_token_endpoint")
    @classmethod
    def _is_endpoint(cls, text: str) -> str:
        if text and not is_safe_url(text):
            raise ValueError("an address; https beyond loopback")
        return text

    @model_validator(mode="after")
    def _tokens_are_whole(self) -> Self:
        """Tokens that are asked for can be checked and be had."""
        if self.are_tokens_asked_for and not self.public_base:
            raise ValueError(f"tokens name the service: {PREFIX}PUBLIC_BASE is needed")
        if self.access_token_issuers and not self.token_endpoint:
            raise ValueError(f"callers ask where to get a token: {PREFIX}TOKEN_ENDPOINT is needed")
        return self

    @model_validator(mode="after")
    def _is_not_open_to_the_world(self) -> Self:
        if self.are_tokens_asked_for or self.development_without_tokens or is_loopback(self.host):
            return self
        raise ValueError(
            f"beyond loopback tokens are asked for: set {PREFIX}ACCESS_TOKEN_ISSUERS or {PREFIX}HOOK_CLIENTS, "
            f"or {PREFIX}DEVELOPMENT_WITHOUT_TOKENS=true to do without")

    @model_validator(mode="after")
    def _own_client_is_whole(self) -> Self:
        named = (self.record_client_id, self.record_key_file, self.record_token_endpoint)
        if any(named) and not (all(named) and self.record_servers):
            raise ValueError(
                f"{PREFIX}RECORD_CLIENT_ID, _KEY_FILE and _TOKEN_ENDPOINT go together, with {PREFIX}RECORD_SERVERS")
        return self

    @property
    def are_tokens_asked_for(self) -> bool:
        """Whether any caller has to show a token; then all have to."""
        return bool(self.access_token_issuers or self.hook_clients)

    @property
    def without_tokens(self) -> str:
        """What everybody is told while no token is asked for."""
        reach = "it listens on loopback only" if is_loopback(self.host) else "DEVELOPMENT SETTING, beyond loopback"
        return f"{WITHOUT_TOKENS}; {reach}"

    @property
    def warnings(self) -> tuple[str, ...]:
        """What an operator should be told at the start."""
        warnings = []
        if not self.are_tokens_asked_for:
            warnings.append(self.without_tokens)
        if self.canonical_base == EXAMPLE_BASE:
            warnings.append(f"{PREFIX}CANONICAL_BASE is not set: identifiers are issued under {EXAMPLE_BASE}")
        if "time_zone" not in self.model_fields_set:
            warnings.append(f"{PREFIX}TIME_ZONE is not set: days are counted in {EXAMPLE_ZONE}")
        if self.database == DATABASE_IN_MEMORY:
            warnings.append(f"{PREFIX}DATABASE is in memory: the audit trail ends with the process")
        return tuple(warnings)


def is_loopback(host: str) -> bool:
    """Whether an address is of this machine only, by its text: no name is looked up."""
    name = host.strip("[]").lower()
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"


def is_safe_url(url: str) -> bool:
    """An address that keys, tokens and data may travel to: https, or this machine; never one of a cloud's innards.

    Judged by its text: no name is looked up.
    """
    try:
        parts = urlsplit(url)
        host = (parts.hostname or "").lower()
    except ValueError:
        return False
    if not _URL.fullmatch(url) or _is_link_local(host):
        return False
    return parts.scheme == "https" or is_loopback(host)


def _is_link_local(host: str) -> bool:
    try:
        return ip_address(host).is_link_local
    except ValueError:
        return False


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
        named = ", ".join(
            f"{PREFIX}{str(f['loc'][0]).upper()} ({f['msg']})" if f["loc"] else f["msg"] for f in faults)
        raise SettingsFault(f"unusable settings: {named}") from None


def shown_settings(settings: Settings) -> tuple[str, ...]:
    """Each setting in effect as ``NAME=value``, in order, without a password."""
    return tuple(f"{PREFIX}{name.upper()}={_shown(getattr(settings, name))}" for name in sorted(Settings.model_fields))


def _shown(value: object) -> str:
    if isinstance(value, TrustedIssuer):
        return " ".join(f"{value.name}={url}" for url in value.key_urls)
    if isinstance(value, tuple):
        return " ".join(map(_shown, value))
    return mask_password(value) if isinstance(value, str) else str(value)
