"""The motion half: belts, motors, drives and what they let the head do."""

from mathlib import lazily

__getattr__ = lazily(__name__)
