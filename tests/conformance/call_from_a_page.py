"""A page of another origin calls the service from a real browser: ``make browser-test``.

The page plans a sample and writes what it got into itself; the browser prints the page. From an
origin that the site has named it gets the plan, from any other it gets nothing.
"""

from __future__ import annotations

import re
import subprocess
import sys
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Thread

from service.settings import Settings
from tests.conftest import SAMPLES, serve

SAMPLE = SAMPLES / "hands-and-face-12-percent.json"
PAGE = """<!doctype html><title>Other origin</title><p id="got">waiting</p><script>
const tell = (text) => { document.getElementById('got').textContent = text; };
fetch('sample.json').then((r) => r.text())
  .then((body) => fetch('ADDRESS/fhir/$plan-grafts', {
    method: 'POST', body, headers: { 'Content-Type': 'application/fhir+json', 'X-Request-Id': 'from-a-page' } }))
  .then((r) => r.json().then((b) => tell(
    `${r.status} ${b.entry[0].resource.resourceType} ${r.headers.get('X-Request-Id')}`)))
  .catch(() => tell('refused'));
</script>"""


class QuietPages(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Requests for the page are nothing to report."""


def what_the_page_gets(browser: str, named: bool) -> str:
    """The text of the page after its call, from an origin that the service was told of or was not."""
    with TemporaryDirectory() as folder:
        pages = ThreadingHTTPServer(("127.0.0.1", 0), partial(QuietPages, directory=folder))
        Thread(target=pages.serve_forever, daemon=True).start()
        origin = f"http://127.0.0.1:{pages.server_port}"
        with serve(Settings(cors_origins=(origin if named else "https://elsewhere.example",))) as address:
            (Path(folder) / "sample.json").write_bytes(SAMPLE.read_bytes())
            (Path(folder) / "index.html").write_text(PAGE.replace("ADDRESS", address))
            printed = subprocess.run(
                [browser, "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=30000", "--dump-dom",
                 f"{origin}/index.html"],
                capture_output=True, text=True, timeout=120, check=True).stdout
        pages.shutdown()
    return re.search(r'id="got">([^<]*)<', printed)[1]


def main(browser: str = "/usr/bin/chromium") -> int:
    got = {named: what_the_page_gets(browser, named) for named in (True, False)}
    print("named origin:", got[True])
    print("other origin:", got[False])
    return 0 if got == {True: "200 CarePlan from-a-page", False: "refused"} else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
