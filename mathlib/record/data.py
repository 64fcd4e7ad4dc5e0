"""A record as JSON: numbers with unit strings that ``mathlib.Q(number, unit)`` reads back."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

from mathlib import units
from mathlib.machine import shown_path
from mathlib.record import Entry, Record, scalar

if TYPE_CHECKING:
    from mathlib.units import Quantity

FORMAT: Final = 1


def write(record: Record) -> str:
    """Write a record as JSON text, keys in a fixed order."""
    machine, made = record.machine, record.provenance
    told = {
        "format": FORMAT,
        "made_by": {"name": "belts-and-beams", "version": made.version, "commit": made.commit},
        "date": record.date.isoformat(),
        "machine": {
            "name": machine.name,
            "belts": machine.machine.belts,
            "file": shown_path(machine.path),
            "sha256": made.machine_sha256,
        },
        "tables": made.tables,
        "inputs": {
            each.key: {
                **_number(each.typical),
                **_ends(None if each.low is None else (each.low, each.high)),
                "kind": each.kind,
                "source": each.source,
            }
            for each in record.inputs
        },
        "measured": machine.contents.measured,
        "answers": {entry.name: _answer(entry) for entry in record.answered},
        "not_answered": {e.name: e.refusal for e in record.entries if e.answer is None},
    }
    return json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _answer(entry: Entry) -> dict[str, Any]:
    answer = entry.answer
    assert answer is not None
    return {
        "moment": entry.moment,
        "asked": answer.asked,
        "verdict": answer.verdict,
        "certain": bool(answer.certain),
        "decided_by": answer.decided_by,
        "flips_at": {word: _number(value) for word, value in answer.flips_at.items()},
        "values": {
            word: {
                **_number(scalar(value)),
                **_ends(answer.ranges.get(word)),
                "rests_on_estimate": word in entry.estimated,
                "about": answer.about.get(word, ""),
            }
            for word, value in answer.values.items()
        },
        "warnings": list(answer.warnings),
        "measure_next": answer.measure_next,
        "sources": list(answer.sources),
    }


def _number(value: Quantity) -> dict[str, Any]:
    number = float(value.magnitude)
    shown = number if math.isfinite(number) else None
    return {"number": shown, "unit": units.spelled(value._units) or "1"}


def _ends(ends: Any) -> dict[str, Any]:
    if ends is None:
        return {}
    return {
        name: _number(value)["number"] for name, value in zip(("low", "high"), ends, strict=True)
    }
