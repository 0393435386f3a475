"""``graftstage sheet``: the plan on pages to print."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from service.cli.exit_codes import ANSWERED, DATA_REQUIRED, UsageFault
from service.cli.progress import told_while
from service.cli.request_file import add_request_options, read_request_file

if TYPE_CHECKING:  # loaded when needed, so that other commands start quickly
    from service.wiring import PlanReply
    from service.wording.languages import Language

FORMS = (".pdf", ".html", ".svg")


def add_command(commands) -> None:
    parser = commands.add_parser("sheet", help="plan the whole course and draw its pages", description=__doc__)
    add_request_options(parser)
    parser.add_argument("-o", "--output", required=True, type=Path, metavar="FILE",
                        help="where to write it; the ending decides the form: .pdf, .html or .svg (the course alone)")
    parser.add_argument("--theatre-list", type=int, metavar="N",
                        help="the theatre list of session N, to tick and to fill in, as .pdf or .html")
    parser.add_argument("--paper", choices=("A4", "letter"), default="A4", help="paper of a PDF")
    parser.add_argument("--language", default="en", metavar="CODE", help="language of the fixed words")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    from service.settings import load_settings
    from service.wiring import answer_plan_request, build_parts
    from service.wording.languages import languages

    form = options.output.suffix.lower()
    if form not in FORMS:
        raise UsageFault(f"the output ends in one of {', '.join(FORMS)}")
    language = languages().get(options.language)
    if language is None:
        raise UsageFault(f"the language is one of {', '.join(languages())}")
    parts, body = build_parts(load_settings()), read_request_file(options.file)
    with told_while("Planning") as watch:
        reply = answer_plan_request(parts, body, as_of=options.as_of, watch=watch)
    if reply.answer is None:
        sys.stderr.write(reply.text)
        return DATA_REQUIRED
    with told_while("Drawing the pages"):
        if options.theatre_list is None:
            written = _write_sheet(reply, language, form, options.paper)
        else:
            written = _write_list(reply, options.theatre_list, language, form, options.paper)
    options.output.write_bytes(written)
    return ANSWERED


def _write_sheet(reply: PlanReply, language: Language, form: str, paper: str) -> bytes:
    from service.sheet.render import write_course_svg, write_sheet_html, write_sheet_pdf

    told = reply.answer, reply.sha256, language
    if form == ".pdf":
        return write_sheet_pdf(*told, paper=paper)
    return (write_sheet_html if form == ".html" else write_course_svg)(*told).encode()


def _write_list(reply: PlanReply, ordinal: int, language: Language, form: str, paper: str) -> bytes:
    from service.sheet.render import write_list_html, write_list_pdf

    told = reply.answer, ordinal, reply.sha256, language
    try:
        if form == ".pdf":
            return write_list_pdf(*told, paper=paper)
        if form == ".html":
            return write_list_html(*told).encode()
    except KeyError:
        raise UsageFault(f"the plan has no session {ordinal}") from None
    raise UsageFault("a theatre list is written as .pdf or .html")
