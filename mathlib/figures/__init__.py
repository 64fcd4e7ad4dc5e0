"""Pictures of answers: matplotlib figures whose artists and data can be tested.

Each chapter draws one answer with ``draw(answer, machine)`` and puts the same data into one
sentence with ``describe(answer, machine)``, for readers who cannot see it.
"""

from __future__ import annotations

import hashlib
import importlib
import io
import re
from typing import TYPE_CHECKING, Any, Final

from mathlib.errors import ValueRefused

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine

#: Pictures by name, with the answer that each shows.
ANSWERS: Final = {
    "step": "step",
    "motor": "motor",
    "torque": "motor",
    "budget": "motor",
    "moves": "moves",
    "belt": "belt",
    "square": "square",
    "ringing": "ringing",
    "frame": "frame",
    "campbell": "ringing",
    "velocities": "ringing",
    "mode_shapes": "ringing",
    "ripple": "ringing",
    "spot": "spot",
    "two_heads": "spot",
    "energy": "energy",
    "two_spots": "energy",
    "line_end": "energy",
    "material": "material",
    "laser": "laser",
    "hazard": "hazard",
    "power": "power",
    "leads": "power",
}
NAMES: Final = tuple(ANSWERS)

_DESCRIPTION: Final = re.compile(r"<metadata>.*?</metadata>\s*", re.DOTALL)
_REFERENCE: Final = re.compile(r'(\bid="|url\(#|\b(?:xlink:)?href="#)')


def answer_of(name: str) -> str:
    """Name the answer that a picture shows."""
    return ANSWERS[name]


def draw(name: str, answer: Answer, machine: Machine, **beside: Any) -> Figure:
    """Draw the answer of this name; ``beside`` is what this picture can show besides.

    Raises
    ------
    ValueRefused
        This answer has no picture.

    """
    import matplotlib

    from mathlib.figures import style

    chapter = _chapter(name)
    with matplotlib.rc_context(style.RC):
        figure: Figure = chapter.draw(answer, machine, **beside)
    return figure


def describe(name: str, answer: Answer, machine: Machine, **beside: Any) -> str:
    """Say in a sentence or two what the picture shows, with its numbers."""
    told: str = _chapter(name).describe(answer, machine, **beside)
    return told


class Picture:
    """A figure for a notebook: a PNG, with the sentence for those who cannot see it."""

    def __init__(self, figure: Figure, description: str) -> None:
        self.figure, self.description = figure, description

    def __repr__(self) -> str:
        """Give the sentence."""
        return self.description

    def _repr_mimebundle_(self, **_: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        import base64

        import matplotlib

        from mathlib.figures import style

        written = io.BytesIO()
        with matplotlib.rc_context(style.RC):
            self.figure.savefig(written, format="png", dpi=100, metadata={"Software": None})
        encoded = base64.b64encode(written.getvalue()).decode()
        shown = {"image/png": encoded, "text/plain": self.description}
        return shown, {"image/png": {"alt": self.description}}


def picture(name: str, answer: Answer, machine: Machine, **beside: Any) -> Picture:
    """Draw the answer of this name for a notebook; see ``draw`` and ``describe``."""
    shown = draw(name, answer, machine, **beside), describe(name, answer, machine, **beside)
    return Picture(*shown)


def heights(*, half_range: Any, **readings: Any) -> Picture:
    """Draw a bed from a few measured heights, for a notebook.

    ``x``, ``y``, ``height``, ``width`` and ``depth`` are as for ``bed.flatness``; ``half_range`` is
    the depth of focus to each side.
    """
    import matplotlib

    from mathlib.figures import bed, style

    found = bed.read(half_range=half_range, **readings)
    with matplotlib.rc_context(style.RC):
        return Picture(bed.draw(found), bed.describe(found, half_range))


def _chapter(name: str) -> Any:
    if name not in NAMES:
        raise ValueRefused(f"There is no picture of {name!r}; there are {', '.join(NAMES)}.")
    return importlib.import_module(f"mathlib.figures.{name}")


def svg(figure: Figure, title: str, description: str) -> str:
    """Write a figure as SVG to put into a page: named, described, and the same each time.

    The ids begin with a hash of title and description, so that several figures fit on one page.
    """
    from html import escape

    import matplotlib

    from mathlib.figures import style

    written = io.StringIO()
    with matplotlib.rc_context(style.RC):
        figure.savefig(written, format="svg", metadata={"Date": None}, transparent=True)
    text = written.getvalue()
    text = _DESCRIPTION.sub("", text[text.index("<svg ") :])
    text = text.replace("xlink:href=", "href=")
    own = "f" + hashlib.sha256(f"{title}\n{description}".encode()).hexdigest()[:10]
    text = _REFERENCE.sub(lambda found: f"{found.group(1)}{own}-", text)
    box = re.search(r'viewBox="[^"]*"', text)
    assert box is not None
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {box.group()} role="img" '
        f'aria-labelledby="{own}-title {own}-desc">\n'
        f'<title id="{own}-title">{escape(title)}</title>\n'
        f'<desc id="{own}-desc">{escape(description)}</desc>\n'
    )
    return head + text[text.index(">") + 1 :].strip() + "\n"
