"""Stands in for the process that works on artwork: says which one it is, and sleeps until somebody ends it."""

import os
import sys
import time
from pathlib import Path

if __name__ == "__main__":
    (Path(sys.argv[1]) / "pid").write_text(str(os.getpid()))
    time.sleep(120)
