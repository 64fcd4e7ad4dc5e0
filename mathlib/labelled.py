"""Formulas over labelled arrays: xarray in, xarray out, plain floats inside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from mathlib import units, words
from mathlib.errors import MathlibError, UnitError, ValueRefused

if TYPE_CHECKING:
    from mathlib.formula import Formula


def over_dataarrays(formula: Formula, given: Mapping[str, Any], allow_missing: bool) -> Any:
    """Evaluate over labelled arrays: units come from, and go to, ``attrs["units"]``."""
    import xarray

    labelled = {w: v for w, v in given.items() if words.is_dataarray(v)}
    mistakes = words.Mistakes(formula.title)
    containers: dict[str, Any] = {}
    for word, value in given.items():
        if word in labelled:
            try:
                unit = value.attrs.get("units")
                containers[word] = None if unit is None else units.container(unit)
            except MathlibError as fault:
                mistakes.add(UnitError, f'{word}, attrs["units"]: {fault}')
        elif isinstance(value, list | tuple) or np.ndim(getattr(value, "magnitude", value)):
            sentence = f"{word} is an array without labels beside labelled ones; "
            mistakes.add(ValueRefused, sentence + "make it a DataArray too.")
    mistakes.stop()

    def call(*arrays: Any) -> Any:
        read = dict(given)
        for (word, unit), array in zip(containers.items(), arrays, strict=True):
            read[word] = array if unit is None else units.quantity(array, unit)
        return formula(allow_missing=allow_missing, **read).magnitude

    try:
        made = xarray.apply_ufunc(call, *labelled.values())
    except xarray.AlignmentError as fault:
        raise ValueRefused(f"{formula.title}: labelled arrays do not fit: {fault}") from None
    return made.assign_attrs(units=formula.output.unit, long_name=formula.title)
