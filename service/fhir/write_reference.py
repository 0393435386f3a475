"""References to the caller's resources, in the form that the caller's server can resolve."""

from __future__ import annotations

URI_IDENTIFIERS = "urn:ietf:rfc:3986"


def refer_to_source(source, *, relative: bool) -> dict:
    """Reference to a resource that the caller sent.

    Literal when it came with a RESTful address: absolute, or relative to the caller's server
    when the answer is to be posted there. Otherwise logical, by identifier: an address that
    only named an entry of the request means nothing outside it.

    Parameters
    ----------
    source : SourceRef
        Where the resource stood in the request.
    relative : bool
        Write ``Type/id`` instead of the absolute address.
    """
    url = source.full_url or ""
    if url.startswith(("http://", "https://")):
        return {"reference": "/".join(url.split("/")[-2:]) if relative else url}
    reference = {"type": source.resource_type}
    identifier = source.identifier or ({"system": URI_IDENTIFIERS, "value": url} if url else None)
    if identifier:
        reference["identifier"] = identifier
    return {**reference, "display": source.display}
