"""Print them all, those with something wrong last; exit 1 if there is one."""

import sys

from tests.wording import sentences

found = list(sentences())
for each in sorted(found, key=lambda one: (bool(one.wrong), one.language, one.text)):
    print(f"{each.language}  {each.text}" + (f"    <- {each.wrong}" if each.wrong else ""))
odd = sum(bool(each.wrong) for each in found)
print(f"{len(found)} sentences about dose, ± and meter, {odd} of them with something wrong")
sys.exit(1 if odd else 0)
