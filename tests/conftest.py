"""Settings for all tests."""

import os

from hypothesis import settings

# No deadlines: how long one example takes says nothing on a busy machine. In CI the examples are the same each time,
# so that a change is judged by itself; at a desk they vary and may find something new.
settings.register_profile("sumlight", deadline=None, derandomize=os.environ.get("CI") == "true")
settings.load_profile("sumlight")
