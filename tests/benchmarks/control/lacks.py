"""What dosectl may be without, or may know better than it could: the pieces that the ablation takes away one at a time."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from dosectl.pool_model.params import PlantParams
from dosectl.pool_model.plant import PoolPlant
from tests.benchmarks.control.owner import Noted
from tests.benchmarks.control.pools import Believed


@dataclass(frozen=True, slots=True)
class Lack:
    """params, believed : the plant and what its owner believes, changed; fault : stands from the end of the warm-up
    settings : added to the owner's
    heard : what becomes of a test in the counted days, None drops it
    """

    params: Callable[[PlantParams], PlantParams] = lambda params: params
    believed: Callable[[PlantParams, Believed], Believed] = lambda _params, believed: believed
    fault: str | None = None
    settings: str = ""
    heard: Callable[[PoolPlant, Noted], Noted | None] = lambda _plant, note: note


def _without(*quantities: str) -> Callable[[PoolPlant, Noted], Noted | None]:
    return lambda _plant, note: None if note.quantity in quantities else note


def _true_stabiliser(plant: PoolPlant, note: Noted) -> Noted:
    return replace(note, value=plant.truth().cya_mg_l) if note.quantity == "stabiliser" else note


def _true_chlorine(plant: PoolPlant, note: Noted) -> Noted:
    return replace(note, value=plant.truth().free_chlorine_mg_l) if note.quantity == "free_chlorine" else note


def _steady(params: PlantParams) -> PlantParams:
    return replace(params, orp=replace(params.orp, drift_mv_day=0.0, fouling_per_day=0.0, wander_mv=0.0))


def _fresh(params: PlantParams) -> PlantParams:
    """Neither cells that wear nor hypochlorite that ages."""
    return replace(params, feeders=tuple(replace(f, ages=False) if hasattr(f, "ages") else f for f in params.feeders))


def _measured(params: PlantParams, believed: Believed) -> Believed:
    """The owner's volume, output and strength are right."""
    volume = params.water.volume_m3
    scale = believed.arrives
    return replace(
        believed,
        volume_m3=round(volume, 1),
        output_g_h=believed.output_g_h * scale,
        rate_ml_min=believed.rate_ml_min * scale,
        arrives=1.0,
    )


def _known_cya(params: PlantParams, believed: Believed) -> Believed:
    return replace(believed, stabiliser_mg_l=round(params.water.cya_mg_l))


NOTHING = "nothing"
SUNLIGHT = '\n[signals.sunlight]\ntopic = "sky"\npointer = "/sunlight_percent"\n'
EARLY_REST = "\n[guards.cold.water]\ncell_c = 10.0\n"  # the least that labels allow; common practice
BY_A_HAIR = "\n[estimate]\norp_sigma_mv = 6.006\n"  # a thousandth more than usual
LACKS: Mapping[str, Lack] = {
    NOTHING: Lack(),
    "nothing but a hair": Lack(settings=BY_A_HAIR),
    "redox probe": Lack(fault="orp_dead"),
    "sound probe": Lack(fault="orp_fouled"),
    "chlorine tests": Lack(heard=_without("free_chlorine")),
    "stabiliser tests": Lack(heard=_without("stabiliser")),
    "any test": Lack(heard=_without("free_chlorine", "ph", "stabiliser", "alkalinity")),
    "doubt of the sun": Lack(settings=SUNLIGHT),
    "drift of the probe": Lack(params=_steady),
    "error of stabiliser": Lack(believed=_known_cya, heard=_true_stabiliser),
    "error of chlorine tests": Lack(heard=_true_chlorine),
    "error of feeder and volume": Lack(params=_fresh, believed=_measured),
    "cell's rest in the cold": Lack(settings=EARLY_REST),
    "every error": Lack(
        params=lambda params: _fresh(_steady(params)),
        believed=lambda params, believed: _known_cya(params, _measured(params, believed)),
        settings=SUNLIGHT,
        heard=lambda plant, note: _true_stabiliser(plant, _true_chlorine(plant, note)),
    ),
}
"""The first rows take evidence away, the others take an error away, the last all of those at once: what is still out of the band
then lies with feeder, pump hours, limits and the control itself. The one before it takes a limit away, that of `cold.cell`.

"nothing but a hair" changes one setting by a thousandth, which no pool can feel: what that moves is chance. A feed that comes a
minute later is tested another value, and a week later the pool is another one."""
