"""A page of another origin calls the service: it gets the plan where the site has named it, else nothing."""

import re
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import pytest

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


@pytest.mark.parametrize("is_named, expected", [(True, "200 CarePlan from-a-page"), (False, "refused")])
def test_only_a_named_origin_gets_the_plan(browser, tmp_path, is_named, expected):
    pages = ThreadingHTTPServer(("127.0.0.1", 0), partial(QuietPages, directory=str(tmp_path)))
    Thread(target=pages.serve_forever, daemon=True).start()
    origin = f"http://127.0.0.1:{pages.server_port}"
    with serve(Settings(cors_origins=(origin if is_named else "https://elsewhere.example",))) as address:
        (tmp_path / "sample.json").write_bytes(SAMPLE.read_bytes())
        (tmp_path / "index.html").write_text(PAGE.replace("ADDRESS", address))
        opened = browser.new_page()
        opened.goto(f"{origin}/index.html")
        got = opened.locator("#got", has_text=re.compile("CarePlan|refused"))
        got.wait_for()
        assert got.inner_text() == expected
        opened.close()
    pages.shutdown()
