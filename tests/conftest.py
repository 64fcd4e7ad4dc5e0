"""Every run of the tests draws the same examples: nothing here depends on chance or on a clock."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None, database=None)
settings.load_profile("fixed")
