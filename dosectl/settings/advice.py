"""What is allowed but deserves a look: said as a warning at start and by `dosectl check`."""

import zoneinfo
from collections.abc import Callable, Iterator
from datetime import datetime

from dosectl.chemistry.calcite import carbonate_alkalinity_mg_l
from dosectl.core.control.target import REPLACE_ABOVE_CYA_MG_L
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.settings import delivery
from dosectl.settings.checks.feeding import HOURLY_MG_L_MAX
from dosectl.settings.delivery import HOUR_S
from dosectl.settings.tables.file import Tables

CONNECTED_ACID_SHARE = 0.30  # of the alkalinity: all of it at once from pH 7.4 then leaves 6.6; derived
SALT_G_L_MIN = 2.0  # below it most cells stop by their label; common practice
FEEDBACK_PERIOD_S = 3.0
USUAL_PH = 7.5
CARBONATE_LEAST_MG_L = 20.0  # below it the pH is hardly held; own judgement
ZONE_APART_H_MAX = 3.5  # the largest that any country keeps between its clock and its sun; from memory, unchecked
SOME_DAY = datetime(2026, 1, 1)  # noqa: DTZ001  # a wall time, of which only the zone's offset is asked
LOCAL_HOSTS = ("localhost", "127.0.0.1", "::1")


def warnings_of(tables: Tables, site: Site) -> tuple[str, ...]:
    """All warnings, each where - what - why - what to do."""
    return tuple(line for source in _SOURCES for line in source(tables, site))


def connected_acid_mg_l(feeder: Feeder, site: Site) -> float:
    """Alkalinity that a full container could take away, all at once [mg/L as CaCO3]."""
    return feeder.container_ml / feeder.ml_per_g / site.pool.volume_m3 if feeder.ml_per_g > 0.0 else 0.0


def advised_acid_l(feeder: Feeder, site: Site) -> float:
    """Most acid to have connected [L]."""
    return CONNECTED_ACID_SHARE * site.pool.alkalinity_mg_l * site.pool.volume_m3 * feeder.ml_per_g / 1000.0


def _connected_acid(_tables: Tables, site: Site) -> Iterator[str]:
    for feeder in site.feeders:
        if feeder.substance is not Substance.ACID:
            continue
        mg_l, limit = connected_acid_mg_l(feeder, site), CONNECTED_ACID_SHARE * site.pool.alkalinity_mg_l
        if mg_l > limit * (1 + 1e-9):
            yield (
                f"feeders.{feeder.id}.container_l = {feeder.container_ml / 1000.0:g}: a siphon past a dead valve could take "
                f"{mg_l:.0f} mg/L of the alkalinity of {site.pool.alkalinity_mg_l:g}. The container is the last limit: "
                f"connect at most {advised_acid_l(feeder, site):.2g} L."
            )


def _welded_contact(tables: Tables, site: Site) -> Iterator[str]:
    for name, table in tables.feeders:
        timer_s = table.wired_timer_s_per_h or HOUR_S
        held = delivery.rate_g_s(table) * timer_s / site.pool.volume_m3
        limit = HOURLY_MG_L_MAX[delivery.substance_of(table)]
        if held > limit * (1 + 1e-9):
            yield (
                f"feeders.{name}.node_cap_s_per_h = {table.node_cap_s_per_h:g}: a welded contact passes the node's own cap and "
                f"feeds {held:.2g} mg/L an hour; the bound is {limit:g}. A wired timer or a smaller pump would hold it."
            )


def _open_broker(tables: Tables, _site: Site) -> Iterator[str]:
    if tables.broker.host in LOCAL_HOSTS:
        return
    if tables.broker.username is None:
        yield (
            f'broker.host = "{tables.broker.host}": no account is set, so anyone on that network may command the feeders. '
            "Give the daemon an account of its own (username, password_file) and an access list."
        )
    elif tables.broker.ca_file is None:
        yield (
            f'broker.host = "{tables.broker.host}": without ca_file the password and every command cross the network in clear. '
            "Turn TLS on, or keep the broker on this machine."
        )


def _slow_feedback(tables: Tables, _site: Site) -> Iterator[str]:
    for signal in tables.signals:
        if signal.kind is SignalKind.FEEDBACK and signal.keys.period_s > FEEDBACK_PERIOD_S and not signal.keys.edges:
            yield (
                f"signals.{signal.name}.period_s = {signal.keys.period_s:g}: a feeder that stays on is seen that much later. "
                "Let it publish each change at once, or every 3 s."
            )


def _thin_salt(tables: Tables, site: Site) -> Iterator[str]:
    cells = [feeder.id for feeder in site.feeders if feeder.kind == "cell"]
    if cells and tables.pool.salt_g_l < SALT_G_L_MIN:
        yield (
            f"pool.salt_g_l = {tables.pool.salt_g_l:g}: {cells[0]} makes little or no chlorine below {SALT_G_L_MIN:g} g/L. "
            "Add salt, or enter a newer test."
        )


def _much_stabiliser(_tables: Tables, site: Site) -> Iterator[str]:
    pool = site.pool
    if pool.stabiliser_mg_l > REPLACE_ABOVE_CYA_MG_L:
        yield (
            f"pool.stabiliser_mg_l = {pool.stabiliser_mg_l:g}: above {REPLACE_ABOVE_CYA_MG_L:g} mg/L it asks for more chlorine "
            "than a pool should hold, and the target stays below. Replace part of the water, and test again."
        )
    carbonate = carbonate_alkalinity_mg_l(pool.alkalinity_mg_l, USUAL_PH, pool.stabiliser_mg_l, pool.borate_b_mg_l)
    if carbonate < CARBONATE_LEAST_MG_L:
        yield (
            f"pool.alkalinity_mg_l = {pool.alkalinity_mg_l:g}: beside a stabiliser of {pool.stabiliser_mg_l:g} mg/L only "
            f"{max(0.0, carbonate):.0f} mg/L of it would be carbonate: one of the two tests is wrong, or a little acid takes the "
            "pH far down. Test both again."
        )


def _place_and_zone(tables: Tables, _site: Site) -> Iterator[str]:
    offset = zoneinfo.ZoneInfo(tables.pool.time_zone).utcoffset(SOME_DAY)
    if offset is None:
        return
    apart_h = abs(offset.total_seconds() / 3600.0 - tables.pool.longitude_deg / 15.0)
    apart_h = min(apart_h, 24.0 - apart_h)
    if apart_h > ZONE_APART_H_MAX:
        yield (
            f"pool.longitude_deg = {tables.pool.longitude_deg:g}: noon there is some {apart_h:.0f} h away from noon in "
            f"{tables.pool.time_zone}, so sun and day would not meet. East is positive, west negative."
        )


def _no_chlorine(_tables: Tables, site: Site) -> Iterator[str]:
    if not site.feeding(Substance.CHLORINE):
        yield "feeders: none feeds chlorine, so only pH is held. Chlorinate by hand and test daily."


def _no_stop_input(_tables: Tables, site: Site) -> Iterator[str]:
    if site.first(SignalKind.STOP_INPUT) is None and site.first(SignalKind.PRESENCE) is None:
        yield (
            "signals: no local stop (kind stop_input) and no button (kind presence) is fitted, so what needs a person at the "
            "plant is recorded as presence not proven. Fit one where you can."
        )


_SOURCES: tuple[Callable[[Tables, Site], Iterator[str]], ...] = (
    _connected_acid,
    _welded_contact,
    _thin_salt,
    _much_stabiliser,
    _place_and_zone,
    _no_chlorine,
    _slow_feedback,
    _open_broker,
    _no_stop_input,
)
