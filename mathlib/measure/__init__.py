"""What was measured: people's files, and what vibration, sound and marks say of a machine.

``files.read`` reads a table as it was saved, says what it found, and changes nothing in silence.
"""

from mathlib import lazily

__getattr__ = lazily(__name__)
