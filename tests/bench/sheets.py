"""How heavy the sheet of each sample is, and how long it takes to write. Processor time, the best of three.

``.venv/bin/python -m tests.bench.sheets``
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from time import process_time

from pypdf import PdfReader

from service.settings import Settings
from service.sheet.render import write_sheet_html, write_sheet_pdf
from service.wiring import answer_plan_request, build_parts
from service.wording.languages import languages
from tests.conftest import ANSWERED_SAMPLES

_TIMES = 3


def main() -> None:
    parts, english = build_parts(Settings()), languages()["en"]
    print("| Sample | HTML, kB | HTML, s | PDF, kB | PDF, s | Pages |\n|---|---|---|---|---|---|")
    for sample in ANSWERED_SAMPLES:
        reply = answer_plan_request(parts, sample.read_bytes())
        if reply.answer is None:
            continue
        told = reply.answer, reply.sha256, english
        html, html_seconds = _timed(lambda told=told: write_sheet_html(*told).encode())
        pdf, pdf_seconds = _timed(lambda told=told: write_sheet_pdf(*told))
        pages = len(PdfReader(BytesIO(pdf)).pages)
        print(f"| {sample.stem} | {len(html) / 1000:.0f} | {html_seconds:.2f} | {len(pdf) / 1000:.0f} | "
              f"{pdf_seconds:.2f} | {pages} |", flush=True)


def _timed(write: Callable[[], bytes]) -> tuple[bytes, float]:
    seconds = []
    for _ in range(_TIMES):
        started = process_time()
        written = write()
        seconds.append(process_time() - started)
    return written, min(seconds)


if __name__ == "__main__":
    main()
