"""Faults of electrodes and their sample line."""

from dosectl.pool_model.faults.upset import Fault, Upset


def _orp_stuck(upset: Upset) -> None:
    upset.orp_frozen = True


def _orp_dead(upset: Upset) -> None:
    upset.orp_dead = True


def _orp_drift(upset: Upset) -> None:
    upset.orp_drift_mv_day = -40.0


def _orp_wanders(upset: Upset) -> None:
    upset.orp_deaf = True


def _orp_fouled(upset: Upset) -> None:
    upset.orp_slope_share = 0.4
    upset.orp_lag_times = 8.0


def _ph_stuck(upset: Upset) -> None:
    upset.ph_frozen = True


def _ph_dead(upset: Upset) -> None:
    upset.ph_dead = True


def _ph_drift(upset: Upset) -> None:
    upset.ph_drift_day = 0.05


def _probes_swapped(upset: Upset) -> None:
    upset.probes_swapped = True


def _sample_line_shut(upset: Upset) -> None:
    upset.sample_shut = True


FAULTS = (
    Fault("orp_stuck", "The ORP value freezes at its last figure; messages go on with fresh times.", _orp_stuck),
    Fault("orp_dead", "The ORP electrode's cable is cut: it reads about 0 mV.", _orp_dead),
    Fault("orp_drift", "The ORP electrode drifts down by 40 mV a day.", _orp_drift),
    Fault(
        "orp_wanders",
        "The ORP electrode answers nothing, yet it wanders by some mV an hour.",
        _orp_wanders,
    ),
    Fault("orp_fouled", "The ORP electrode is fouled: 40 % of its slope is left and it is eight times slower.", _orp_fouled),
    Fault("ph_stuck", "The pH value freezes at its last figure; messages go on with fresh times.", _ph_stuck),
    Fault("ph_dead", "The pH electrode's glass is broken: it reads about 7.0 in any water.", _ph_dead),
    Fault("ph_drift", "The pH electrode drifts up by 0.05 a day.", _ph_drift),
    Fault("probes_swapped", "The plugs of ORP and pH are swapped: pH reads about -4.8, ORP about -30 mV.", _probes_swapped),
    Fault("sample_line_shut", "The sample valve is shut: the probes stand in old water.", _sample_line_shut),
)
