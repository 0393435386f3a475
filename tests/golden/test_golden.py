"""A changed answer is a decision: ``make recreate-golden``, with the reason in the commit."""

import pytest

from tests.golden.answers import CHECKSUMS, README, SAMPLE_NAMES, checksums, golden_text, readme_text, reply_to


@pytest.fixture
def same_or_recreated(request):
    """Compares a file with what it should hold, or writes it anew when that was asked for."""
    def check(path, content: str) -> None:
        if request.config.getoption("--recreate-golden"):
            path.write_text(content, encoding="utf-8")
        assert path.read_text(encoding="utf-8") == content
    return check


@pytest.mark.parametrize("sample", SAMPLE_NAMES)
def test_the_plan_as_text(sample, same_or_recreated):
    same_or_recreated(golden_text(sample), reply_to(sample).text)


def test_the_bundles_by_their_checksums(same_or_recreated):
    same_or_recreated(CHECKSUMS, checksums())


def test_the_readme_shows_the_real_answer(same_or_recreated):
    same_or_recreated(README, readme_text())
