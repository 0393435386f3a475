"""The section on findings of the developers' page, made from the table that the service words them by.

Run as a command it writes the section anew.
"""

import re

from service.wording.findings import load_table
from tests.conftest import ROOT

PAGE = ROOT / "DEVELOPERS.md"
TITLE = "Findings"
HEAD = """
What is said about a record or a plan beside the plan. The rows are those of `service/wording/tables/findings.csv`;
`.venv/bin/python -m tests.architecture.findings_table` writes this section anew. The severity is the usual one.

| Finding | Severity | Says | To do |
|---|---|---|---|
"""


def write_section() -> str:
    """The text between the title of the section and the next title."""
    rows = sorted(load_table("findings").values(), key=lambda row: row["code"])
    return HEAD + "".join(
        f"| `{row['code']}` | {row['severity']} | {row['title']}. | {row['mitigation']} |\n" for row in rows) + "\n"


def replace_section(page: str) -> str:
    """The page with the section as it should be."""
    return re.sub(rf"(?<=\n## {TITLE}\n).*?(?=^## )", lambda _: write_section(), page, flags=re.DOTALL | re.MULTILINE)


if __name__ == "__main__":
    PAGE.write_text(replace_section(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
