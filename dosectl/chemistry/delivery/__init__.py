"""Feeders: mass per second from their level, one file a kind.

A relay feeder runs at level 1 only; a metered one anywhere from 0 to 1. Chlorine is in g as Cl2, acid in g of
alkalinity as CaCO3 that it takes away, so that both say what they do to the water.
"""

from dosectl.chemistry.delivery.cell import chlorinator_rate_g_s, faraday_rate_g_h, temperature_factor
from dosectl.chemistry.delivery.pump import acid_rate_g_s, mass_fed_g, pump_rate_g_s

__all__ = ["acid_rate_g_s", "chlorinator_rate_g_s", "faraday_rate_g_h", "mass_fed_g", "pump_rate_g_s", "temperature_factor"]
