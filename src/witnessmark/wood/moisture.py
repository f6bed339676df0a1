"""How much water wood holds in the air of a place, once it has come to rest there.

Question  which moisture content does wood come to in air of this temperature and relative humidity
Units     degrees C; relative humidity as a ratio 0 to 1; moisture content in percent of the dry weight
Arrays    any shapes that broadcast
Method    sorption with two hydrates (Hailwood and Horrobin), its four constants square in the temperature
Source    USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), Eq. 4-5; constants: Simpson,
          FPL-RN-0268 (1998)
Valid     -1 to 55 degrees C and 0.05 to 0.95, as the handbook's Table 4-2; wood as it is sawn, not treated
Refuses   temperatures and humidities outside of that (ValueError)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

COLDEST_C, WARMEST_C = -2.0, 60.0
DRIEST_RATIO, DAMPEST_RATIO = 0.0, 0.95


def equilibrium_pct(temperature_c: ArrayLike, humidity_ratio: ArrayLike) -> NDArray[np.float64]:
    """Equilibrium moisture content, percent.

    >>> round(float(equilibrium_pct(20.0, 0.5)), 2)
    9.27
    """
    t, h = np.asarray(temperature_c, dtype=np.float64), np.asarray(humidity_ratio, dtype=np.float64)
    if not (np.all(t >= COLDEST_C) and np.all(t <= WARMEST_C)):
        raise ValueError(f"temperatures from {COLDEST_C:g} to {WARMEST_C:g} degrees C are known")
    if not (np.all(h >= DRIEST_RATIO) and np.all(h <= DAMPEST_RATIO)):
        raise ValueError("a relative humidity lies between 0 and 0.95 (95 %)")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    dissolved = kh / (1.0 - kh)
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return np.asarray(1800.0 / w * (dissolved + bound))
