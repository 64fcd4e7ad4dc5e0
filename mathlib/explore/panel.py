"""One pattern for everything that moves: sliders with exact entry, a sentence, and a picture."""

from __future__ import annotations

import base64
import html
import io
import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final, NamedTuple

import attrs
import ipywidgets
from matplotlib.figure import Figure

from mathlib import units, words
from mathlib.errors import MathlibError, WordError
from mathlib.fields import in_unit_of
from mathlib.units import Quantity

_STEPS: Final = 100  # of a slider, end to end
_DPI: Final = 140
_COLUMN: Final = "repeat(auto-fit, minmax(min(100%, 22em), 1fr))"


@attrs.frozen(kw_only=True)
class Control:
    """One value to move: its name, what it may be, the slider's ends, and where it starts."""

    name: str
    word: words.Word
    low: Quantity
    high: Quantity
    start: Quantity

    @property
    def label(self) -> str:
        """The name for people: "carriage.friction" is "carriage friction"."""
        return self.name.replace(".", " ").replace("_", " ")

    @property
    def key(self) -> str:
        """The name as attributes and classes of a page take it."""
        return self.label.replace(" ", "-")

    def at(self, place: int) -> Quantity:
        """Value at a place of the slider, which has places from 0 to 100."""
        low, high = float(self.low.magnitude), float(self.high.magnitude)
        each = (high - low) / _STEPS
        number = low + each * place
        # Three digits, or as many as tell one place from the next.
        digits = max(3, 1 + math.ceil(math.log10(abs(number) / each))) if number else 3
        return units.quantity(float(f"{number:.{digits}g}"), self.low._units)

    def place(self, value: Quantity) -> int:
        """Place of the slider nearest to a value, at an end for what lies beyond it."""
        along = (value - self.low) / (self.high - self.low)
        return round(_STEPS * min(max(float(along.to("1").magnitude), 0.0), 1.0))


class Seen(NamedTuple):
    """What a picture shows, for those who do not see it, and the result in words."""

    alternative: str
    sentence: str


class Panel:
    """Controls over one figure.

    Parameters
    ----------
    controls : sequence of Control
        In the order in which they stand.
    figure : matplotlib.figure.Figure
        Made once, without pyplot.
    update : callable
        Takes the values by name, moves the figure's artists, and says what is seen. Where it
        raises a MathlibError the sentence is shown and the last good values stay.

    Notes
    -----
    ``values``, ``said``, ``alternative``, ``picture`` (PNG) and ``refused`` are what a reader
    sees. The picture's element carries ``data-update``, which counts finished updates from 1.

    """

    def __init__(
        self,
        *,
        controls: Sequence[Control],
        figure: Figure,
        update: Callable[[dict[str, Quantity]], Seen],
    ) -> None:
        self.figure, self._update = figure, update
        self._controls = {control.name: control for control in controls}
        self.values = {control.name: control.start for control in controls}
        self.alternative = self.said = self.refused = ""
        self.picture, self.updates, self._following = b"", 0, False
        self._fields = {control.name: _field(control) for control in controls}
        self._sliders = {control.name: _slider(control) for control in controls}
        self._parts = {name: ipywidgets.HTML() for name in ("refused", "said", "picture")}
        for name in self._controls:
            self._fields[name].observe(
                lambda change, n=name: self._entered(n, change["new"]), "value"
            )
            self._sliders[name].observe(
                lambda change, n=name: self._slid(n, change["new"]), "value"
            )
        pairs = [
            ipywidgets.VBox(
                [self._fields[name], self._sliders[name]],
                layout=ipywidgets.Layout(min_width="0", overflow="hidden"),
            )
            for name in self._controls
        ]
        grid = ipywidgets.Layout(grid_template_columns=_COLUMN, grid_gap="4px 24px")
        self.widget = ipywidgets.VBox(
            [ipywidgets.GridBox(pairs, layout=grid), *self._parts.values()],
            layout=ipywidgets.Layout(max_width="860px", overflow="hidden"),
        )
        self._accept({})
        figure.set_layout_engine("none")  # laid out once: nothing jumps, and redraws are quicker

    def set(self, name: str, value: Any) -> None:
        """Give one control a value: text with a unit, or a quantity.

        Raises
        ------
        WordError
            There is no such control.
        UnitError, ValueRefused
            The value does not fit, or the library refuses what follows from it.

        """
        if name not in self._controls:
            raise WordError(f"{name!r} is no control here; write one of {', '.join(self.values)}.")
        self._accept({name: in_unit_of(self._controls[name].word, value)})

    def _accept(self, changed: dict[str, Quantity]) -> None:
        """Take the values, or refuse them as a whole; only then show anything."""
        values = self.values | changed
        self.alternative, self.said = self._update(values)
        self.values, self.refused = values, ""
        self.updates += 1
        drawn = io.BytesIO()
        self.figure.savefig(drawn, format="png", dpi=_DPI, metadata={"Software": None})
        self.picture = drawn.getvalue()
        self._show()

    def _entered(self, name: str, text: str) -> None:
        if not self._following:
            self._try(name, text)

    def _slid(self, name: str, place: int) -> None:
        if not self._following:
            self._try(name, self._controls[name].at(place))

    def _try(self, name: str, value: Any) -> None:
        try:
            self.set(name, value)
        except MathlibError as fault:
            self._update(self.values)  # the artists go back to the last good values
            self.refused = f"{fault} Kept: {units.show(self.values[name], 6)}."
            self._show()

    def _show(self) -> None:
        """Bring every widget to what is held here."""
        with self._follow():
            for name, value in self.values.items():
                self._sliders[name].value = self._controls[name].place(value)
                if not self.refused:
                    self._fields[name].value = units.show(value, 6)
        alert = f'<p role="alert" style="color:#B03000">{html.escape(self.refused)}</p>'
        self._parts["refused"].value = alert if self.refused else ""
        self._parts["said"].value = (
            '<p role="status" aria-live="polite" class="panel-said" '
            f'style="font-size:1.15em;line-height:1.4;margin:4px 0">{html.escape(self.said)}</p>'
        )
        state = "".join(
            f' data-{self._controls[name].key}="{units.show(value, 6)}"'
            for name, value in self.values.items()
        )
        encoded = base64.b64encode(self.picture).decode("ascii")
        self._parts["picture"].value = (
            f'<img class="panel-picture" data-update="{self.updates}"{state} '
            f'alt="{html.escape(self.alternative)}" style="width:100%;max-width:620px;height:auto" '
            f'src="data:image/png;base64,{encoded}">'
        )

    @contextmanager
    def _follow(self) -> Iterator[None]:
        """Set widgets without taking that for something a reader did."""
        self._following = True
        try:
            yield
        finally:
            self._following = False

    def __repr__(self) -> str:
        """Give the alternative text of the picture."""
        return self.alternative

    def _repr_mimebundle_(self, **_: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        """Show the widget where there is a kernel, and the picture where there is none."""
        live: dict[str, Any] = self.widget._repr_mimebundle_()
        encoded = base64.b64encode(self.picture).decode("ascii")
        shown = {**live, "image/png": encoded, "text/plain": self.alternative}
        return shown, {"image/png": {"alt": self.alternative}}


def _field(control: Control) -> Any:
    return ipywidgets.Text(
        value=units.show(control.start, 6),
        description=control.label,
        tooltip=f"{control.word.word}: {control.word.about}. Write a number and a unit.",
        continuous_update=False,
        style={"description_width": "11em"},
        layout=ipywidgets.Layout(width="auto"),
    )


def _slider(control: Control) -> Any:
    made = ipywidgets.IntSlider(
        value=control.place(control.start),
        min=0,
        max=_STEPS,
        readout=False,
        tooltip=f"{control.label}, {units.show(control.low)} to {units.show(control.high)}",
        layout=ipywidgets.Layout(width="auto", margin="0 12px"),
    )
    made.add_class(f"panel-slider-{control.key}")
    return made
