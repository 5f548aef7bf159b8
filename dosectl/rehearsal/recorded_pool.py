"""A pool out of its own record, fed otherwise: what was recorded, and beside it what another feed makes of it.

The record has weather, guests, pours, leaves and faults in it as they were; nobody has to guess them. Only the difference goes by
a model: what was fed otherwise adds to the water that was believed, and fades as the estimate has learnt that this pool's
chlorine does. Chlorine and acid are mixed in at once. A difference of pH fades with the carbon dioxide, at the rate at which the
recorded pH strove upwards; alkalinity is taken as it is believed now.
"""

import math
from collections.abc import Mapping
from datetime import timedelta

from dosectl.chemistry import decay
from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.advice.feeding import uv_at
from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, Spell, predict
from dosectl.core.estimate.electrode import PH_SLOPE_MV
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.light import LEAST_SHARE
from dosectl.core.estimate.state import CHLORINE, SLOPE, STABILISER, THINNING
from dosectl.core.product import cold_share, weighted
from dosectl.core.site import Feeder, Signal, Site
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalId, SignalKind
from dosectl.pool_model.protocol import Truth
from dosectl.rehearsal.past import Past, value_at
from dosectl.rehearsal.recorded_acidity import PH_LEAST, PH_MOST, Acidity, Learnt

FREE_LEAST_MG_L = 0.02
HOCL_LEAST_MG_L = 0.0005
ON_SHARE = 0.999  # of a minute: a flow that broke off within it was no flow
SAYS_ON_AT_ONCE = {SignalKind.STOP_INPUT, SignalKind.COVER}
SHOWS_THE_FEEDER = {SignalKind.FEEDBACK, SignalKind.CELL_CURRENT}
SWITCHES = {
    SignalKind.FLOW, SignalKind.SAMPLE_FLOW, SignalKind.WATER_PATH, SignalKind.PUMP, SignalKind.COVER, SignalKind.STOP_INPUT,
    SignalKind.PRESENCE,
}  # fmt: skip
RUNNING_A = 5.0


class RecordedPool:
    """Satisfies `pool_model.protocol.Plant`. Its feeders and signals are those of `site`, the settings that are tried."""

    def __init__(self, past: Past, learnt: Learnt, site: Site, *, fed_otherwise: bool = True) -> None:
        """fed_otherwise : the water follows what is fed; else it stays as it is on record, whatever runs"""
        self.utc = past.start
        self._fed_otherwise = fed_otherwise
        self.feeders = tuple(str(feeder.id) for feeder in site.feeders)
        self._past, self._learnt, self._site = past, learnt, site
        self._on: dict[str, float] = {}
        self._fed_mg_l = dict.fromkeys(Substance, 0.0)
        self._dry_s = 0.0
        self._more_mg_l, self._more_ph = 0.0, 0.0  # than on record
        self._less_ml = {feeder.id: 0.0 for feeder in site.feeders}  # in its container than on record
        pool = past.site.pool
        self._depth_share = decay.depth_factor(pool.depth_m, learnt.params.light_attenuation_per_m)
        self._still = rows_of((0.0,) * len(learnt.estimate.cov))
        self._ph = Acidity.of(past, learnt)
        self._numbers = {
            signal.id for signal in past.site.signals
            if signal.threshold is None and signal.kind not in SWITCHES
            and any(value not in (0.0, 1.0) for value in past.readings[signal.id] if not math.isnan(value))
        }  # fmt: skip

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        """See `protocol.Plant`."""
        if dt_s < 0.0 or not all(0.0 <= level <= 1.0 for level in commands.values()):
            raise ValueError(f"dt_s {dt_s:g}, commands {dict(commands)}: time goes on, and a level is from 0 to 1")
        if unknown := set(commands) - set(self.feeders):
            raise KeyError(f"{sorted(unknown)}: the feeders are {', '.join(self.feeders)}")
        self._on = {feeder: level for feeder, level in commands.items() if level > 0.0}
        if dt_s == 0.0:
            return
        if self._fed_otherwise:
            self._feed(dt_s)
        self.utc += timedelta(seconds=dt_s)

    def _feed(self, dt_s: float) -> None:
        """What the feeders bring in so much time, and the record's do not, or the other way round."""
        fed = dict.fromkeys(Substance, 0.0)
        now = self._past.at(self.utc)
        then = now + dt_s / 60.0
        water_c = self._temp_c(now)
        arrived_g = 0.0
        for feeder in self._site.feeders:
            grams = feeder.rate_g_s * self._on.get(str(feeder.id), 0.0) * dt_s
            fed[feeder.substance] += grams / self._past.site.pool.volume_m3
            arrived_g += grams * cold_share(feeder, water_c) * (feeder.substance is Substance.CHLORINE)
            self._less_ml[feeder.id] += feeder.ml_per_g * (grams - self._drawn_g(feeder, now, then))
        self._dry_s += dt_s * bool(self._on and not self._flows(now))
        booked = {substance: self._past.fed_between(substance, now, then) for substance in Substance}
        was_mg_l = booked[Substance.CHLORINE] * self._arrived_share(now, then, water_c)
        self._more_mg_l = self._chlorine_after(now, then, arrived_g / self._past.site.pool.volume_m3, was_mg_l)
        here = min(PH_MOST, max(PH_LEAST, self._ph.recorded(now) + self._more_ph))
        acid_mg_l = fed[Substance.ACID] - booked[Substance.ACID]
        self._more_ph = (self._more_ph + self._ph.after(here, acid_mg_l)) * math.exp(-self._ph.fades_a_day * dt_s / 86400.0)
        for substance, mg_l in fed.items():
            self._fed_mg_l[substance] += mg_l

    def _drawn_g(self, feeder: Feeder, now: float, then: float) -> float:
        """What the record drew from this container: under another name where this one is not on record. [g]"""
        past, here = self._past, {item.id for item in self._site.feeders}
        names = [feeder.id]
        if feeder.id not in past.fed_by:
            names = [name for name, fed in past.fed_by.items() if fed is feeder.substance and name not in here]
        return sum(past.drawn_g(name, now, then) for name in names)

    def _arrived_share(self, now: float, then: float, water_c: float) -> float:
        """Of what the record fed of chlorine, what reached the water: by the feeders that ran then. One that the tried
        settings have as well gives what they say: it was the same cell."""
        by = {name: self._past.drawn_g(name, now, then) for name, fed in self._past.fed_by.items() if fed is Substance.CHLORINE}
        return weighted((*self._past.site.feeders, *self._site.feeders), by, lambda feeder: cold_share(feeder, water_c))

    def _chlorine_after(self, now: float, then: float, fed_mg_l: float, booked_mg_l: float) -> float:
        """How much more chlorine there is than on record, once both waters have gone on by the model. Fed and booked: what of it
        reaches the water. [mg/L]"""
        before, past = self._past.free_at(now), self._past
        if self._more_mg_l == 0.0 and fed_mg_l == booked_mg_l:
            return 0.0
        seconds = 60.0 * (then - now)
        otherwise, as_it_was = (
            self._gone_on(free, mg_l, now, seconds)
            for free, mg_l in ((before + self._more_mg_l, fed_mg_l), (before, booked_mg_l))
        )
        after = past.free_at(then)
        return max(FREE_LEAST_MG_L, after + otherwise - as_it_was) - after

    def _gone_on(self, free_mg_l: float, fed_mg_l: float, minute: float, seconds: float) -> float:
        mean = list(self._learnt.estimate.mean)
        mean[CHLORINE] = math.log(max(FREE_LEAST_MG_L, free_mg_l))
        mean[STABILISER] = math.log(self._cya(minute) + CYA_SHIFT_MG_L)
        ph = min(9.0, max(6.0, self._ph.recorded(minute) + self._more_ph))
        water_c = self._temp_c(minute)
        spell = Spell(seconds, self._uv(minute), fed_mg_l, water_c, ph)
        still = [row.copy() for row in self._still]
        predict(mean, still, self._learnt.params, spell, self._depth_share)
        return math.exp(mean[CHLORINE])

    def signals(self) -> dict[str, float | bool]:
        """See `protocol.Plant`: each signal of the tried settings by `id:` and its id, raw, as its node would send it."""
        sent: dict[str, float | bool] = {}
        for signal in self._site.signals:
            value = self._shown(signal)
            if value is not None:
                sent[f"id:{signal.id}"] = value
        return sent

    def _shown(self, signal: Signal) -> float | bool | None:
        on = str(signal.feeder) in self._on
        if signal.kind in SHOWS_THE_FEEDER:
            if signal.kind is SignalKind.CELL_CURRENT:
                return RUNNING_A if on else 0.0
            return on if signal.threshold is None else 2.0 * signal.threshold * on
        value = self._read(signal.id)
        if value is None:
            return None
        if signal.id not in self._numbers:
            state = value > 0.0 if signal.kind in SAYS_ON_AT_ONCE else value >= ON_SHARE
            return state if signal.threshold is None else 2.0 * signal.threshold * state
        was = next(item for item in self._past.site.signals if item.id == signal.id)
        return (value + self._shift(signal) - was.offset) / (was.slope or 1.0)

    def _read(self, signal: SignalId) -> float | None:
        found = self._past.readings.get(signal)
        minute = math.floor(self._past.at(self.utc))
        if found is None or not 0 <= minute < self._past.minutes or math.isnan(found[minute]):
            return None
        return found[minute]

    def refilled(self, feeder: str) -> None:
        """A container was filled on record: what it holds from now on is what that says."""
        self._less_ml.update({name: 0.0 for name in self._less_ml if name == feeder})

    def _shift(self, signal: Signal) -> float:
        """What a probe shows more than on record."""
        kind = signal.kind
        if kind is SignalKind.LEVEL and signal.feeder is not None:
            holds_ml = self._site.feeder(signal.feeder).container_ml
            return -100.0 * self._less_ml[signal.feeder] / holds_ml if holds_ml > 0.0 else 0.0
        if kind is SignalKind.PH:
            return self._more_ph
        if kind is SignalKind.FREE_CHLORINE:
            return self._more_mg_l
        if kind is SignalKind.ORP:
            hocl_was, hocl = self._hocl(0.0, 0.0), self._hocl(self._more_mg_l, self._more_ph)
            return self._learnt.estimate.mean[SLOPE] * math.log10(hocl / hocl_was) - PH_SLOPE_MV * self._more_ph
        return 0.0

    def _hocl(self, more_mg_l: float, more_ph: float) -> float:
        minute = self._past.at(self.utc)
        free = max(FREE_LEAST_MG_L, self._past.free_at(minute) + more_mg_l)
        ph = min(PH_MOST, max(PH_LEAST, self._ph.recorded(minute) + more_ph))
        return max(HOCL_LEAST_MG_L, hocl_mg_l(free, self._cya(minute), ph))

    def truth(self) -> Truth:
        """The water as believed on record, with what another feed makes of it."""
        minute, past = self._past.at(self.utc), self._past
        free = past.free_at(minute) + self._more_mg_l
        flows, pump = self._flows(minute), past.of_kind(SignalKind.PUMP)
        unknown = math.nan
        return Truth(
            utc=self.utc, free_chlorine_mg_l=free, combined_chlorine_mg_l=unknown,
            hocl_mg_l=self._hocl(self._more_mg_l, self._more_ph), ph=self._ph.recorded(minute) + self._more_ph,
            temp_c=self._temp_c(minute), cya_mg_l=self._cya(minute),
            alkalinity_mg_l=unknown, salt_g_l=unknown, uv=self._uv(minute), air_c=unknown, rain_mm_h=unknown, bathers=0,
            pump_on=flows if pump is None else value_at(pump, minute) >= ON_SHARE, flow=flows, cover_closed=self._covered(minute),
            loss_mg_l_day=unknown, fed_chlorine_g=self._fed_mg_l[Substance.CHLORINE] * past.site.pool.volume_m3,
            fed_acid_g=self._fed_mg_l[Substance.ACID] * past.site.pool.volume_m3, lost_chlorine_g=unknown,
            fed_without_flow_s=self._dry_s,
        )  # fmt: skip

    def set_fault(self, name: str, on: bool) -> None:
        """A record has the faults that it has. Raises KeyError."""
        raise KeyError(f"{name!r} {on}: a recorded pool has no faults to inject")

    def manual_test(self, quantity: str, method: str) -> float:
        """What was tested is in the record. Raises KeyError."""
        raise KeyError(f"{quantity!r} by {method!r}: nobody can test the water of a record")

    def add_by_hand(self, product: str, amount: float) -> None:
        """What was added is in the record. Raises KeyError."""
        raise KeyError(f"{product!r} {amount:g}: nothing can be added to a recorded pool")

    def would_have_read(self, quantity: str, value: float) -> float:
        """A hand test of the record, as it would have come out in the water that was fed otherwise."""
        if quantity == "free_chlorine":
            return max(0.0, value + self._more_mg_l)
        return value + self._more_ph if quantity == "ph" else value

    def _flows(self, minute: float) -> bool:
        flow = self._past.of_kind(SignalKind.FLOW)
        return flow is not None and value_at(flow, minute) >= ON_SHARE

    def _covered(self, minute: float) -> bool:
        cover = self._past.of_kind(SignalKind.COVER)
        return cover is not None and value_at(cover, minute) > 0.0

    def _temp_c(self, minute: float) -> float:
        temps = self._past.of_kind(SignalKind.WATER_TEMP)
        value = math.nan if temps is None else value_at(temps, minute)
        return self._learnt.estimate.temp_c if math.isnan(value) else value

    def _uv(self, minute: float) -> float:
        if self._covered(minute):
            return 0.0
        pool = self._past.site.pool
        told = self._past.of_kind(SignalKind.SUNLIGHT)
        share = math.nan if told is None else value_at(told, minute) / 100.0
        # what the daemon did not believe is no sky here either
        light = share if share >= LEAST_SHARE else self._learnt.estimate.light_share
        return light * uv_at(pool, self._past.start + timedelta(minutes=minute))

    def _cya(self, minute: float) -> float:
        """Stabiliser, from what is believed now back along its learnt loss, less what was put in since. [mg/L]"""
        mean = self._learnt.estimate.mean
        days = (self._learnt.at - self._past.start) / timedelta(days=1) - minute / 1440.0
        return max(0.0, math.exp(mean[STABILISER] + mean[THINNING] * days) - CYA_SHIFT_MG_L - self._past.poured_since(minute)[0])
