"""The laser half: beams, and the energy that lands."""

from mathlib import lazily

__getattr__ = lazily(__name__)
