"""Who is in the water, and the chlorine they cost."""

from random import Random

from dosectl.pool_model.params import BatherParams, Party


class Bathers:
    """Draws each local day's visits; tells how many are in the water and the demand they bring."""

    __slots__ = ("_day", "_params", "_rng", "_visits", "away", "count", "demand_g_s")

    def __init__(self, params: BatherParams, rng: Random) -> None:
        self._params = params
        self._rng = rng
        self._day = -1
        self._visits: tuple[Party, ...] = ()
        self.away = False  # nobody comes, whatever was drawn
        self.count = 0
        self.demand_g_s = 0.0

    def step(self, day: int, hour: float) -> None:
        """Brings the guests to this local day and hour. A visitor's demand is spread over the stay."""
        if day != self._day:
            self._day = day
            self._visits = self._plan(day)
        count, rate = 0, 0.0
        for visit in () if self.away else self._visits:
            if visit.from_h <= hour < visit.to_h:
                count += visit.bathers
                rate += visit.bathers * self._params.demand_g / ((visit.to_h - visit.from_h) * 3600.0)
        self.count, self.demand_g_s = count, rate

    def _plan(self, day: int) -> tuple[Party, ...]:
        params, rng = self._params, self._rng
        weekday = (day - 1) % 7  # ordinal 1 was a Monday
        weekend = weekday >= 5
        chance = params.weekend_chance if weekend else params.weekday_chance
        most = params.weekend_bathers_max if weekend else params.weekday_bathers_max
        # Always three draws a day, so that one changed parameter does not shift all later days.
        comes, share, from_h = rng.random() < chance, rng.random(), rng.uniform(11.0, 18.0)
        visits = [party for party in params.parties if party.weekday == weekday]
        if comes:
            visits.append(Party(weekday, from_h, from_h + 1.5, 1 + int(share * most)))
        return tuple(visits)
