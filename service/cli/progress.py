"""One line on the terminal while something takes long: the step, the plan in hand, the seconds. Erased at the end."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from threading import Event, Thread
from time import perf_counter
from typing import TextIO

from service.domain.search_news import SearchWatch

#: What is done sooner shows nothing. [s]
_LONG_SECONDS = 1.0
_LOOK_SECONDS = 0.2


@contextmanager
def told_while(work: str) -> Iterator[SearchWatch]:
    """Tell how far the block has come, where standard error is a terminal; ``work`` is said until there is news."""
    watch, ended = SearchWatch(), Event()
    if not sys.stderr.isatty():
        yield watch
        return
    teller = Thread(target=_tell, args=(work, watch, ended, sys.stderr), daemon=True)
    teller.start()
    try:
        yield watch
    finally:
        ended.set()
        teller.join()


def _tell(work: str, watch: SearchWatch, ended: Event, terminal: TextIO) -> None:
    """Written over itself with spaces alone, so that every terminal shows it; one that is gone is no fault."""
    started = perf_counter()
    if ended.wait(_LONG_SECONDS):
        return
    with suppress(OSError):
        is_over = False
        while not is_over:
            width = shutil.get_terminal_size().columns - 1
            line = _describe(work, watch, int(perf_counter() - started))
            terminal.write(f"\r{line[:width]:{width}}")
            terminal.flush()
            is_over = ended.wait(_LOOK_SECONDS)
        terminal.write(f"\r{'':{width}}\r")
        terminal.flush()


def _describe(work: str, watch: SearchWatch, seconds: int) -> str:
    """What matters first: a narrow terminal cuts the rest."""
    from service.wording.search_text import word_best, word_gap, word_step  # loaded by then, where there is news

    news = watch.latest
    if news is None:
        return f"{work}: {seconds} s"
    return f"{word_step(news)}: {seconds} s, {word_gap(news)}, {word_best(news)}"
