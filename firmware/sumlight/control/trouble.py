"""What is found wrong while the box works, before it becomes a fault that stands."""

from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import Later

Trouble = tuple[FaultName, Later]
"""The fault it stands for and its words, which are put together only if the fault is not known yet."""
