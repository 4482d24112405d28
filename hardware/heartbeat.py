"""Prints the charge pump's figures, as README.md and the drawing quote them: `python hardware/heartbeat.py`.

Values and formulas are in firmware/sumlight/box/charge_pump.py, because control needs them too.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "firmware"))

from sumlight.box.charge_pump import figures

if __name__ == "__main__":
    for name, text in figures().items():
        sys.stdout.write(f"{name}: {text}\n")
