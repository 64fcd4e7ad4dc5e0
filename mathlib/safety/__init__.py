"""Who could be hurt: limits of exposure, distances, filters, smoke."""

from mathlib import lazily

__getattr__ = lazily(__name__)
