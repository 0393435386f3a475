"""The only file that calls out of the service: to addresses from the settings, within size and time, no redirects.

An address counts as allowed when the caller of this file took it from the settings, or found it under one that it
took from there. Certificates are checked against those of the system (``SSL_CERT_FILE`` names others). No proxy is
used, no cookie kept, and no text of an error repeats an address, a header or a body.
"""

from __future__ import annotations

import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import httpx2 as httpx
from anyio import fail_after

Client = httpx.AsyncClient


class OutboundFault(Exception):
    """A call did not bring an answer that can be used. The text names the kind of fault only."""


@dataclass(frozen=True)
class Call:
    """One request. ``form`` makes it a POST of these fields."""

    url: str
    headers: Mapping[str, str] = field(default_factory=dict)
    form: Mapping[str, str] | None = None


def make_client() -> Client:
    """A client for :func:`fetch`, to be used in one block and then thrown away."""
    return Client(follow_redirects=False, trust_env=False, verify=_certificates())


async def fetch(client: Client, call: Call, *, most_bytes: int, seconds: float) -> bytes:
    """The body of a 200.

    Parameters
    ----------
    client : Client
        From :func:`make_client`.
    call : Call
        Its address is allowed.
    most_bytes : int
        A longer body is given up while it arrives; it must come unpacked. [bytes]
    seconds : float
        Time for the whole call, name look-up and last byte included. [s]

    Raises
    ------
    OutboundFault
        Not reached, not in time, too large, packed, or another status; a redirect is one.
    """
    try:
        with fail_after(seconds):
            return await _receive(client, call, most_bytes)
    except TimeoutError:
        raise OutboundFault("not answered in time") from None
    except (httpx.HTTPError, httpx.InvalidURL, OSError) as error:
        raise OutboundFault(f"not reached ({type(error).__name__})") from None


async def _receive(client: Client, call: Call, most_bytes: int) -> bytes:
    method = "GET" if call.form is None else "POST"
    headers = {"Accept-Encoding": "identity", **call.headers}
    async with client.stream(method, call.url, headers=headers, data=call.form, timeout=None) as answer:
        if answer.status_code != 200:
            raise OutboundFault(f"answered with status {answer.status_code}")
        if "content-encoding" in answer.headers:
            raise OutboundFault("answered with a packed body")
        body = bytearray()
        async for chunk in answer.aiter_raw():
            body += chunk
            if len(body) > most_bytes:
                raise OutboundFault("answered with too large a body")
        return bytes(body)


@lru_cache(maxsize=1)
def _certificates() -> ssl.SSLContext:
    return ssl.create_default_context()
