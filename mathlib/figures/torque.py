"""Torque of both motors against speed, and what the job asks of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from mathlib.answers import motor, tell
from mathlib.figures import style
from mathlib.units import Q

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from mathlib.answers import Answer
    from mathlib.machine import Machine
    from mathlib.motion.steppers import Motor

_Z90: Final = 1.6448536269514722
_LOOKS: Final = ((style.BLUE, "-"), (style.VERMILION, "--"))


def _motors(machine: Machine) -> list[tuple[str, str, Motor]]:
    found = [("", machine.motor)]
    if machine.other_motor is not None:
        found.append(("other_", machine.other_motor))
    return [(f"{tell(m.step_angle).replace(' deg', '°')} motor", p, m) for p, m in found]


def curves(machine: Machine, m: Motor, speeds: np.ndarray) -> dict[str, np.ndarray]:
    """Give the expected torque in N·m over head speeds in mm/s, with the ends of 90 % of cases."""
    fixed = machine.typical()
    asked = motor.values(fixed, m)
    fastest = (asked["step_rate_diagonal"] / asked["step_rate"]).magnitude
    return {
        name: motor.torque_at_speed(fixed, m, Q(speeds * fastest, "mm/s"), normal)
        .to("N*m")
        .magnitude
        for name, normal in (("low", -_Z90), ("typical", 0.0), ("high", _Z90))
    }


def _asked(answer: Answer, prefix: str) -> float:
    """Torque that the job's acceleration asks, in N·m."""
    torque = answer.values[f"{prefix}torque_at_speed"] / answer.values[f"{prefix}margin_at_speed"]
    return float(np.nanmedian(torque.to("N*m").magnitude))


def draw(answer: Answer, machine: Machine) -> Figure:
    """Draw both motors' torque with its band, the demand and twice the demand."""
    job = float(np.median(machine.job.speed.to("mm/s").magnitude))
    flips = [v.to("mm/s").magnitude for w, v in answer.flips_at.items() if w.startswith("speed")]
    speeds = np.linspace(1.0, 1.35 * max([2.0 * job, *flips]), 300)
    figure, axes = style.new("Torque against speed: a motor is out where its band meets the demand")
    top = 0.0
    for (name, _, m), (colour, line) in zip(_motors(machine), _LOOKS, strict=False):
        told = curves(machine, m, speeds)
        axes.fill_between(speeds, told["low"], told["high"], color=colour, alpha=0.16, linewidth=0)
        axes.plot(speeds, told["typical"], color=colour, linestyle=line, label=name)
        top = max(top, float(told["high"].max()))
    asked = _asked(answer, "")
    for times, text in ((1.0, "the job asks"), (motor.ENOUGH, f"{motor.ENOUGH:g} times that")):
        axes.axhline(times * asked, color=style.INK, linestyle=":", linewidth=1.4)
        axes.annotate(
            text,
            (speeds[-1], times * asked),
            xytext=(-4, 3),
            textcoords="offset points",
            ha="right",
        )
    axes.axvline(job, color=style.GREY, linewidth=1.2)
    axes.annotate(
        f"job: {tell(machine.job.speed)}",
        (job, 1.02 * top),
        xytext=(4, 0),
        textcoords="offset points",
        va="top",
    )
    axes.set_xlim(0, speeds[-1])
    axes.set_ylim(0, 1.05 * max(top, motor.ENOUGH * asked))
    axes.set_xlabel("speed of the head, in mm/s")
    axes.set_ylabel("torque of one motor, in N·m")
    axes.legend(frameon=False, loc="upper right", title="expected, band 90 %")
    return figure


def describe(answer: Answer, machine: Machine) -> str:
    """Say what each motor has at the job's speed, and where it runs out."""
    told = []
    for name, prefix, _ in _motors(machine):
        flip = answer.flips_at.get("speed" if not prefix else "speed_other_motor")
        out = "" if flip is None else f", down to twice the demand at {tell(flip)}"
        told.append(
            f"{name}: {tell(answer.values[f'{prefix}torque_at_speed'])} at the job's speed, "
            f"{tell(answer.values[f'{prefix}margin_at_speed'], 2)} times what is asked{out}"
        )
    return f"Curves of torque against speed. {'; '.join(told)}."
