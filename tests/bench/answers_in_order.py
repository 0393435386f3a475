"""``python -m tests.bench.answers_in_order SAMPLE...``: samples planned one after another in this process.

Each as ``graftstage plan`` plans it; a line for each as ``sha256sum`` writes it. Options that are
not names of samples go to the command.
"""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stdout
from hashlib import sha256

from service.cli.exit_codes import ANSWERED, DATA_REQUIRED
from service.cli.main import main as graftstage
from tests.conftest import SAMPLES


def answer(sample: str, options: list[str]) -> bytes:
    """What the command writes. Raises ``SystemExit`` when it does not answer."""
    written = io.StringIO()
    with redirect_stdout(written):
        code = graftstage(["plan", str(SAMPLES / f"{sample}.json"), *options])
    if code not in (ANSWERED, DATA_REQUIRED):
        sys.exit(code)
    return written.getvalue().encode()


def main(arguments: list[str]) -> None:
    first_option = next((i for i, text in enumerate(arguments) if text.startswith("-")), len(arguments))
    for sample in arguments[:first_option]:
        print(f"{sha256(answer(sample, arguments[first_option:])).hexdigest()}  {sample}")


if __name__ == "__main__":
    main(sys.argv[1:])
