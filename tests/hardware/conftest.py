"""hardware/ is no package: its scripts find each other beside themselves, and so do these tests."""

import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "hardware"))
