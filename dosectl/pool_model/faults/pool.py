"""Upsets of the pool itself."""

from dosectl.pool_model.faults.upset import Fault, Upset


def _algae(upset: Upset) -> None:
    upset.algae_mg_l_day = 4.0


def _tablet_left_in(upset: Upset) -> None:
    upset.trichlor_g_h = 4.0


def _cover_closed(upset: Upset) -> None:
    upset.cover_closed = True


def _cold_snap(upset: Upset) -> None:
    upset.air_offset_c = -14.0
    upset.heat_exchange = 2.5


def _heat_wave(upset: Upset) -> None:
    upset.air_offset_c = 9.0


FAULTS = (
    Fault("algae", "Algae bloom and eat 4 mg/L of chlorine a day more.", _algae),
    Fault("tablet_left_in", "A trichlor tablet was left in the skimmer: 4 g/h dissolve, pump on or off.", _tablet_left_in),
    Fault("cover_closed", "The cover is closed: hardly any sun, hardly any gas leaves.", _cover_closed),
    Fault("cold_snap", "A cold spell: air 14 C colder and windy, the water cools for days.", _cold_snap),
    Fault("heat_wave", "A heat wave: air 9 C warmer for as long as it stands.", _heat_wave),
)
