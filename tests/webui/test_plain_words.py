"""Words that mean nothing at the bench stay away from the page: what a newcomer's review of it listed.

Those about dose, ± and meter are looked for everywhere by `tests.wording`, German ones by `tests.webui.test_language`.
"""

import re
from pathlib import Path

import sumlight_web

PAGE = Path(str(sumlight_web.__file__)).parent
SAID = re.compile(r"""\b[Nn]?_\(\s*(?:"((?:[^"\\]|\\.)*)"|'((?:[^'\\]|\\.)*)')""")

NOT_FOR_THE_BENCH = r"absolute|\bstack\b|unsure by gaps|true over counted|textbook|\bset 0\b|\bk = 2"
ON_A_CERTIFICATE = "Standard uncertainty. A certificate that says ± 8 % with k = 2 means 4 here."
"""The one place that has to say it: it is what the certificate in the reader's hand says."""


def test_the_page_says_nothing_that_only_its_makers_understand() -> None:
    """What is measured for and written into records keeps its exact words, on the terminal and in files."""
    told = {
        text
        for file in sorted([*PAGE.rglob("*.py"), *PAGE.rglob("*.html")])
        for match in SAID.finditer(file.read_text(encoding="utf-8"))
        if (text := match[1] or match[2] or "")
    }
    assert len(told) > 1000
    assert ON_A_CERTIFICATE in told
    assert {text for text in told - {ON_A_CERTIFICATE} if re.search(NOT_FOR_THE_BENCH, text, re.IGNORECASE)} == set()
