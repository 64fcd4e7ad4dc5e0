"""Wood and heat: how well it conducts and how much it holds, by density and moisture."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from mathlib.errors import ValueRefused
from mathlib.words import with_units

_WATER: Final = 4.18  # kJ/(kg*K), specific heat of water


@with_units(
    "Thermal conductivity of wood across the grain",
    returns="W/(m*K)",
    specific_gravity="1",
    moisture=("1", "zero"),
)
def conductivity(*, specific_gravity: Any, moisture: Any) -> Any:
    """Conductivity across the grain near room temperature; along it about twice as much.

    Parameters
    ----------
    specific_gravity : number
        Oven-dry mass over the mass of water in the volume at that moisture; above 0.3.
    moisture : ratio
        Mass of water over oven-dry mass, such as "12 %"; below 25 %.

    Returns
    -------
    Quantity
        W/(m·K), within about 20 % for a given piece.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; outside the range of the fit.

    Notes
    -----
    Wood Handbook (FPL-GTR-190, 2010), eq. 4-15, a fit to many species.

    Examples
    --------
    >>> print(conductivity(specific_gravity=0.38, moisture="12 %"))
    0.1109 W/m/K

    """
    if np.any(np.asarray(specific_gravity) <= 0.3) or np.any(np.asarray(moisture) >= 0.25):
        raise ValueRefused(
            "Thermal conductivity of wood across the grain: the fit is for a specific_gravity "
            "above 0.3 and moisture below 25 %."
        )
    return specific_gravity * (0.1941 + 0.4064 * moisture) + 0.01864


@with_units("Specific heat of wood", returns="J/(kg*K)", temperature="K", moisture=("1", "zero"))
def specific_heat(*, temperature: Any, moisture: Any = "0 %") -> Any:
    """Specific heat of wood, which does not depend on the species.

    Parameters
    ----------
    temperature : temperature
        From 7 to 147 °C (280 to 420 K).
    moisture : ratio
        Mass of water over oven-dry mass, below 30 %. More is held than by wood and water apart,
        since bonds between both loosen.

    Returns
    -------
    Quantity
        J/(kg·K), for each mass of moist wood.

    Raises
    ------
    UnitError, ValueRefused
        As a formula does; outside the range of the fit.

    Notes
    -----
    Wood Handbook (FPL-GTR-190, 2010), eq. 4-16 and 4-17, with the minus signs of the bond term.

    Examples
    --------
    >>> print(specific_heat(temperature="340 K", moisture="12 %"))
    1915 J/kg/K

    """
    hot = np.asarray(temperature)
    if np.any(hot < 280) or np.any(hot > 420) or np.any(np.asarray(moisture) >= 0.3):
        raise ValueRefused(
            "Specific heat of wood: the fit is for 280 to 420 K and moisture below 30 %."
        )
    percent = 100 * moisture
    dry = 0.1031 + 0.003867 * temperature
    bond = percent * (-0.06191 + 2.36e-4 * temperature - 1.33e-4 * percent)
    return 1e3 * ((dry + _WATER * moisture) / (1 + moisture) + bond)
