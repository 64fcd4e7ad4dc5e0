"""What a controller does with the beam, as the builder found it out and wrote it down."""

from __future__ import annotations

from typing import Final

from mathlib.fields import choice, optional, record
from mathlib.units import Quantity

NOT_STATED: Final = "not stated"
GOES_OFF, STAYS_ON = "beam goes off", "beam stays on"
_FOUND: Final = (NOT_STATED, GOES_OFF, STAYS_ON)
#: What happens to the beam, by key.
EVENTS: Final = {
    "on_pause": "when a program is paused",
    "on_alarm": "at an alarm",
    "on_lost_link": "when the link to the computer breaks",
}


@record
class BeamControl:
    """What the controller does with the beam: needed before a program is written for it."""

    highest_power_word: Quantity | None = optional("1", "the S word that stands for full power")
    beam_on_word: str = choice(
        (NOT_STATED, "M3", "M4"), "the word that arms the beam; M5 disarms it", NOT_STATED
    )
    power_follows_speed: str = choice(
        (NOT_STATED, "yes", "no"),
        "whether the controller lowers the power while the head is slower than the feed word",
        NOT_STATED,
    )
    origin_x: Quantity | None = optional(
        "mm", "where X0 lies, from the left edge of the work area", "signed"
    )
    origin_y: Quantity | None = optional(
        "mm", "where Y0 lies, from the front edge of the work area", "signed"
    )
    on_pause: str = choice(_FOUND, f"what happens to the beam {EVENTS['on_pause']}", NOT_STATED)
    on_alarm: str = choice(_FOUND, f"what happens to the beam {EVENTS['on_alarm']}", NOT_STATED)
    on_lost_link: str = choice(
        _FOUND, f"what happens to the beam {EVENTS['on_lost_link']}", NOT_STATED
    )
    park_x: Quantity | None = optional("mm", "where the head is left, from the left edge", "zero")
    park_y: Quantity | None = optional("mm", "where the head is left, from the front edge", "zero")

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys that a program needs and that are not stated."""
        needed = {
            "highest_power_word": self.highest_power_word is None,
            "beam_on_word": self.beam_on_word == NOT_STATED,
            "power_follows_speed": self.power_follows_speed == NOT_STATED,
            "origin_x": self.origin_x is None,
            "origin_y": self.origin_y is None,
            **{event: getattr(self, event) == NOT_STATED for event in EVENTS},
        }
        return tuple(key for key, absent in needed.items() if absent)

    @property
    def parking(self) -> tuple[float, ...]:
        """Numbers of the place where the head is left, in mm; one alone is one too few."""
        told = [value for value in (self.park_x, self.park_y) if value is not None]
        return tuple(float(value.to("mm").magnitude) for value in told)

    @property
    def against(self) -> tuple[str, ...]:
        """Events at which the beam stays on."""
        return tuple(told for event, told in EVENTS.items() if getattr(self, event) == STAYS_ON)
