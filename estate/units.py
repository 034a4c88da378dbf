"""Conversions at the edge, decibel arithmetic and physical constants."""

import math

M_PER_FT = 0.3048
"""International foot [m]; exact."""

FT_PER_M = 1 / M_PER_FT
"""3.2808 ft."""

MM_PER_M = 1000.0

GB_PER_DAY_PER_MBPS = 86_400 / 8 / 1000
"""Storage of one megabit per second over a day [GB/(Mb/s)]: 10.8."""

COPPER_OHM_MM2_PER_M = 1 / 58
"""Resistivity of annealed copper at 20 °C, 100 % IACS (IEC 60028) [Ω·mm²/m]."""

DB_PER_NEPER = 20 / math.log(10)
"""Decibels per neper: 8.6859."""
