"""What the structure check lets through: characters, depth, numbers of extensions, modifiers."""

from __future__ import annotations

import re
from typing import Any

from service.fhir.json_text import MOST_TEXT
from service.fhir.read_log import ReadLog
from service.fhir.resources import path_of

MOST_ELEMENT_LEVELS = 40
MOST_EXTENSIONS = 100
LONGEST_ID = 64

_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]")
_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")
_ACTIVE = re.compile(r"<\s*script|javascript:|<!DOCTYPE|<!ENTITY|\bon\w+\s*=", re.IGNORECASE)


class ElementScan:
    """One walk over a resource. ``modifiers`` lists the elements that may change its meaning."""

    def __init__(self, expression: str, log: ReadLog) -> None:
        self.expression = expression
        self.log = log
        self.modifiers: list[tuple[str, str]] = []  # error id, place
        self.is_too_large = False  # further checks would cost more than they tell
        self._path: list[str | int] = []

    def _place(self) -> str:
        return self.expression + path_of(tuple(self._path))

    def _refuse_size(self, error_id: str, place: str, cap: int) -> None:
        self.is_too_large = True
        self.log.fault(error_id, place, cap=cap)

    def walk(self, node: Any) -> None:
        if isinstance(node, dict):
            self._walk_members(node.items())
        elif isinstance(node, list):
            self._walk_members(enumerate(node))
        elif isinstance(node, str):
            self._look_at_text(node)

    def _walk_members(self, members: Any) -> None:
        if len(self._path) >= MOST_ELEMENT_LEVELS:
            self._refuse_size("extension-too-deep", self.expression, MOST_ELEMENT_LEVELS)
            return
        for key, member in members:
            self._path.append(key)
            if isinstance(member, dict | list | str):
                self._look_at_member(key, member)
                self.walk(member)
            self._path.pop()

    def _look_at_member(self, key: str | int, member: Any) -> None:
        if key == "id" and isinstance(member, str) and len(member) > LONGEST_ID:
            self.log.fault("id-too-long", self._place())
        elif key == "extension" and len(member) > MOST_EXTENSIONS:
            self._refuse_size("too-many-extensions", self._place(), MOST_EXTENSIONS)
        elif key == "modifierExtension":
            self.modifiers.append(("modifier-extension", self._place()))
        elif key == "implicitRules":
            self.modifiers.append(("implicit-rules", self._place()))
        elif key == "contained" and self._path.count("contained") > 1:
            self.log.fault("contained-in-contained", self._place())

    def _look_at_text(self, text: str) -> None:
        if len(text) > MOST_TEXT:
            self._refuse_size("text-too-long", self._place(), MOST_TEXT)
            return
        if not text.isprintable() and _FORBIDDEN.search(text):
            self.log.fault("control-character", self._place())
        if not text.isascii() and _TURNING.search(text):
            self.log.note("direction-override", self._place())
        if self._path[-1] == "div" and _ACTIVE.search(text):
            self.log.note("narrative-active", self._place())
