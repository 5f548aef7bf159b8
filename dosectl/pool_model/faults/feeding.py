"""Faults of feeders and their containers."""

from dosectl.pool_model.faults.upset import Fault, Upset


def _acid_stuck(upset: Upset) -> None:
    upset.acid_stuck = True


def _chlorine_stuck(upset: Upset) -> None:
    upset.chlorine_stuck = True


def _acid_dead(upset: Upset) -> None:
    upset.acid_dead = True


def _chlorine_dead(upset: Upset) -> None:
    upset.chlorine_dead = True


def _acid_empty(upset: Upset) -> None:
    upset.acid_empty = True


def _chlorine_empty(upset: Upset) -> None:
    upset.chlorine_empty = True


def _acid_too_strong(upset: Upset) -> None:
    upset.acid_strength_times = 2.1


def _chlorine_too_weak(upset: Upset) -> None:
    upset.chlorine_strength_times = 0.4


def _chlorine_too_strong(upset: Upset) -> None:
    upset.chlorine_strength_times = 2.0


def _cell_scaled(upset: Upset) -> None:
    upset.cell_output_share = 0.35


def _siphon_acid(upset: Upset) -> None:
    upset.acid_siphon_ml_h = 1500.0


FAULTS = (
    Fault("acid_feeder_stuck_on", "The acid pump's relay is welded: it runs whatever is commanded.", _acid_stuck),
    Fault("chlorine_feeder_stuck_on", "The chlorine feeder's relay is welded: it runs whatever is commanded.", _chlorine_stuck),
    Fault("acid_feeder_dead", "The acid pump does not run when asked.", _acid_dead),
    Fault("chlorine_feeder_dead", "The chlorine feeder does not run when asked.", _chlorine_dead),
    Fault("acid_container_empty", "The acid container is empty: the pump turns and feeds nothing.", _acid_empty),
    Fault("chlorine_container_empty", "The hypochlorite container is empty: the pump turns and feeds nothing.", _chlorine_empty),
    Fault("acid_too_strong", "The acid container was filled with 31 % acid where 15 % is expected.", _acid_too_strong),
    Fault("chlorine_too_weak", "The hypochlorite has lost 60 % of its strength.", _chlorine_too_weak),
    Fault("chlorine_too_strong", "The hypochlorite is twice as strong as its label says.", _chlorine_too_strong),
    Fault("cell_scaled", "The cell is scaled: 35 % of its current and output are left.", _cell_scaled),
    Fault("siphon_acid", "The acid injection valve leaks: acid siphons in at 1.5 L/h, the pump being off.", _siphon_acid),
)
