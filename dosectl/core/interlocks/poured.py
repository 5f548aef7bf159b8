"""How far a reading may have moved by what somebody put in by hand and entered, so that it is not taken for a siphon.

An entry is a claim: it may be wrong or forged. So it explains a change of its own sign and size only, once, near its own
time, and never more than twice what trips without it; no limit of mass hangs on it. What was taken from a container explains
no fall of the container: there a siphon shows best, and a wait of four hours is cheap.
"""

from math import log10

from dosectl.chemistry import carbonate
from dosectl.core.evidence import Evidence, Poured
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity

MIXES_S = 2 * 3600.0  # common practice: a home pool is mixed after some two hours of its pump
SAID_LATE_S = 3600.0  # who enters it half an hour later often says "now"
UNEVEN = 1.5  # engineering judgement: the part of the water that the probe sees may have got half as much more
MOST_TIMES = 2.0  # of the change that trips with nothing entered
# Own judgement: half a Nernst slope is the theory of a decade of chlorine, electrodes in pools show up to twice that.
ORP_MV_DECADE, ORP_MV_PH = 60.0, 60.0
LEAST_FREE_MG_L = 0.5  # engineering judgement: below this a decade is soon passed, and the cap holds


def near(evidence: Evidence, from_s: float, until_s: float) -> tuple[Poured, ...]:
    """What, by its entry, may have been mixing in at some moment of [from_s, until_s] (plant clock)."""
    return tuple(
        entry for entry in evidence.standing.poured if entry.at_s - SAID_LATE_S <= until_s and entry.at_s + MIXES_S >= from_s
    )


def explained(evidence: Evidence, kind: SignalKind, entries: tuple[Poured, ...], trips_at: float, ph: float) -> float:
    """The most by which these may have lowered the pH (`trips_at` < 0), or raised the ORP (> 0) [pH or mV, never negative].

    `ph` : before they were put in. Zero for every other kind of signal.
    """
    if not entries or kind not in (SignalKind.PH, SignalKind.ORP):
        return 0.0
    fall_ph = sum(max(0.0, ph - _ph_after(evidence, entry, ph)) for entry in entries)
    most = fall_ph
    if kind is SignalKind.ORP:
        added_mg_l = sum(max(0.0, entry.free_chlorine_mg_l) for entry in entries)
        most = ORP_MV_DECADE * log10(1.0 + added_mg_l / LEAST_FREE_MG_L) + ORP_MV_PH * fall_ph
    return min(UNEVEN * most, MOST_TIMES * abs(trips_at))


def _ph_after(evidence: Evidence, entry: Poured, ph: float) -> float:
    """pH of the mixed water by alkalinity and stabiliser as tested last, else as typed in; unchanged where the law ends."""
    pool = evidence.site.pool
    test = evidence.newest_test(Quantity.ALKALINITY)
    cya = evidence.newest_test(Quantity.STABILISER)
    cya_mg_l = pool.stabiliser_mg_l if cya is None else cya.value
    alkalinity = max(pool.alkalinity_mg_l if test is None else test.value, 15.0 + 0.45 * cya_mg_l)
    try:
        return carbonate.ph_after_change(
            alkalinity,
            cya_mg_l,
            min(9.0, max(6.2, ph)),
            ta_change_mg_l=max(entry.alkalinity_mg_l, -0.8 * alkalinity),
            dic_change_mmol_l=entry.carbon_mmol_l,
            cya_change_mg_l=entry.stabiliser_mg_l,
            borate_change_b_mg_l=entry.borate_b_mg_l,
            borate_b_mg_l=pool.borate_b_mg_l,
            salt_g_l=pool.salt_g_l,
        )
    except ValueError:
        return ph
