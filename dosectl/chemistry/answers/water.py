"""One pool water as a person tests it, and what it becomes when something is added."""

from dataclasses import dataclass, replace

from dosectl.chemistry import calcite, carbonate, chlorine, ranges
from dosectl.chemistry.products import Effects
from dosectl.chemistry.ranges import Range

TESTED_PH = Range("pH", 6.0, 9.5, "", "outside it test again; the answer would not hold")


@dataclass(frozen=True, slots=True)
class Water:
    """A mixed pool. Refuses values outside the model's range at construction, so no answer is made from them.

    Alkalinity is total, as titrated: cyanurate, borate and standing chlorine are in it.
    """

    volume_m3: float
    free_chlorine_mg_l: float
    ph: float
    ta_mg_l: float
    cya_mg_l: float
    hardness_mg_l: float = 0.0
    salt_g_l: float = 0.0
    temp_c: float = 25.0
    borate_b_mg_l: float = 0.0

    def __post_init__(self) -> None:
        ranges.VOLUME.check(self.volume_m3)
        ranges.FREE_CHLORINE.check(self.free_chlorine_mg_l)
        TESTED_PH.check(self.ph)
        ranges.ALKALINITY.check(self.ta_mg_l)
        ranges.CYANURIC_ACID.check(self.cya_mg_l)
        ranges.HARDNESS.check(self.hardness_mg_l)
        ranges.SALT.check(self.salt_g_l)
        ranges.TEMPERATURE.check(self.temp_c)
        ranges.BORATE.check(self.borate_b_mg_l)

    @property
    def hocl_mg_l(self) -> float:
        """Hypochlorous acid, the number that targets are written in: 25 C, concentration constants. [mg/L as Cl2]"""
        return chlorine.hocl_mg_l(self.free_chlorine_mg_l, self.cya_mg_l, self.ph)

    @property
    def saturation_index(self) -> float:
        """Calcite balance, see `calcite.saturation_index`; ValueError without calcium or carbonate."""
        return calcite.saturation_index(
            self.ph,
            self.ta_mg_l,
            self.hardness_mg_l,
            cya_mg_l=self.cya_mg_l,
            borate_b_mg_l=self.borate_b_mg_l,
            temp_c=self.temp_c,
            salt_g_l=self.salt_g_l,
        )


def after(water: Water, effects: Effects, *, settled: bool = False) -> Water:
    """The water once an addition is mixed in, before the air has changed it.

    `settled` tells it for the day when the chlorine that was added has become chloride: free chlorine is then as
    before, and alkalinity and pH have moved by the net effect. Raises ValueError when the addition leaves the
    model's range.
    """
    ta = effects.ta_net_mg_l if settled else effects.ta_instant_mg_l
    fc = 0.0 if settled else effects.free_chlorine_mg_l
    ph = carbonate.ph_after_change(
        water.ta_mg_l,
        water.cya_mg_l,
        water.ph,
        ta_change_mg_l=ta,
        dic_change_mmol_l=effects.dic_mmol_l,
        cya_change_mg_l=effects.cya_mg_l,
        borate_change_b_mg_l=effects.borate_b_mg_l,
        borate_b_mg_l=water.borate_b_mg_l,
        temp_c=water.temp_c,
        salt_g_l=water.salt_g_l,
        free_chlorine_mg_l=water.free_chlorine_mg_l,
        free_chlorine_change_mg_l=fc,
    )
    if not TESTED_PH.low <= ph <= TESTED_PH.high:
        raise ValueError(
            f"pH = {ph:.2f} after the addition: accepted is {TESTED_PH.low:g} to {TESTED_PH.high:g}; "
            "it is too much for this water"
        )
    return replace(
        water,
        free_chlorine_mg_l=max(0.0, water.free_chlorine_mg_l + fc),
        ph=ph,
        ta_mg_l=water.ta_mg_l + ta,
        cya_mg_l=water.cya_mg_l + effects.cya_mg_l,
        hardness_mg_l=water.hardness_mg_l + effects.hardness_mg_l,
        salt_g_l=water.salt_g_l + effects.salt_mg_l / 1000.0,
        borate_b_mg_l=water.borate_b_mg_l + effects.borate_b_mg_l,
    )
