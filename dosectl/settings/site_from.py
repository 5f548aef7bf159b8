"""Checked tables to the frozen objects that the rooms take. Called only where nothing was found against the tables."""

from dosectl.core.site import SALT_WATER_G_L, Feeder, Pool, Signal, Site
from dosectl.model.feeds import FeederId
from dosectl.model.signals import NodeId, SignalId, SignalKind
from dosectl.settings import delivery
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import RelayTemplate
from dosectl.settings.checks.feeding import at_load
from dosectl.settings.tables.file import SignalTable, Tables
from dosectl.settings.tables.schema import CellTable, FeederTable, PoolTable, PumpTable
from dosectl.settings.tables.signal_kinds import Meter, shape_of, usual_age_s


def site_from(tables: Tables) -> Site:
    """What is installed, without digests."""
    owners = _owners(tables)
    return Site(
        ident=f"dosectl-{tables.pool.id}",
        pool=_pool(tables.pool),
        signals=tuple(_signal(signal, owners.get(signal.name)) for signal in tables.signals),
        feeders=tuple(_feeder(name, table, tables) for name, table in tables.feeders),
        renew_s=tables.timing.renew_s,
        expires_s=tables.timing.expires_s,
        digest="",
        simulated=tables.pool.simulated,
    )


def bindings_from(tables: Tables) -> tuple[SignalBinding, ...]:
    """Where each signal comes from, in the order of the file."""
    return tuple(_binding(signal) for signal in tables.signals)


def relays_from(tables: Tables) -> tuple[RelayTemplate, ...]:
    """Templates of the plain relays, in the order of the file."""
    return tuple(
        RelayTemplate(
            feeder=FeederId(name),
            on_topic=table.relay.on_topic,
            on_payload=table.relay.on_payload,
            off_topic=table.relay.off_topic or table.relay.on_topic,
            off_payload=table.relay.off_payload,
        )
        for name, table in tables.feeders
        if table.relay is not None
    )


def _pool(table: PoolTable) -> Pool:
    return Pool(
        pool_id=table.id,
        name=table.name or table.id,
        volume_m3=float(table.volume_m3),
        latitude_deg=float(table.latitude_deg),
        longitude_deg=float(table.longitude_deg),
        time_zone=table.time_zone,
        stabiliser_mg_l=float(table.stabiliser_mg_l),
        alkalinity_mg_l=float(table.alkalinity_mg_l),
        hardness_mg_l=float(table.hardness_mg_l),
        salt_g_l=float(table.salt_g_l),
        borate_b_mg_l=float(table.borate_b_mg_l),
        depth_m=float(table.depth_m),
        turnover_h=float(table.turnover_h),
        salt_water=table.salt_g_l >= SALT_WATER_G_L,
        covered=table.covered,
        asks_pump_hours=table.asks_pump_hours,
        without=tuple(table.without),
    )


def _owners(tables: Tables) -> dict[str, FeederId]:
    owners: dict[str, FeederId] = {}
    for name, table in tables.feeders:
        for key in ("feedback", "level", "current", "voltage"):
            named = getattr(table, key, None)
            if named is not None:
                owners[named] = FeederId(name)
    return owners


def threshold_meter(signal: SignalTable) -> Meter | None:
    """The meter by which a signal counts as on or off, None where it is a switch or a plain number."""
    for meter in shape_of(signal.kind).meters:
        if meter.threshold and getattr(signal.keys, f"on_above_{meter.suffix}") is not None:
            return meter
    return None


def _number_meter(signal: SignalTable) -> Meter | None:
    """The meter of a signal that is used as a number, None for switches and thresholds."""
    shape = shape_of(signal.kind)
    plain = [meter for meter in shape.meters if not meter.threshold]
    return plain[0] if plain and (not shape.switch or signal.keys.unit is not None) else None


def _signal(signal: SignalTable, owner: FeederId | None) -> Signal:
    shape, keys = shape_of(signal.kind), signal.keys
    threshold, number = threshold_meter(signal), _number_meter(signal)
    age_s = keys.age_s_max if keys.age_s_max is not None else usual_age_s(shape, keys.period_s)
    partner = getattr(keys, "partner", None)
    return Signal(
        id=SignalId(signal.name),
        kind=signal.kind,
        age_s_max=float(age_s),
        period_s=float(keys.period_s),
        edges=keys.edges,
        threshold=float(getattr(keys, f"on_above_{threshold.suffix}")) if threshold else None,
        sigma=float(getattr(keys, f"sigma_{number.suffix}")) if number else 0.0,
        offset=float(getattr(keys, f"calibration_offset_{number.suffix}")) if number else 0.0,
        slope=float(keys.calibration_slope) if number else 1.0,
        partner=SignalId(partner) if partner is not None else None,
        feeder=owner,
    )


def _binding(signal: SignalTable) -> SignalBinding:
    keys = signal.keys
    meter = threshold_meter(signal) or _number_meter(signal)
    return SignalBinding(
        signal=SignalId(signal.name),
        kind=signal.kind,
        topic=keys.topic,
        pointer=keys.pointer,
        unit=(keys.unit or meter.unit) if meter else "",
        scale=float(keys.scale) if meter else 1.0,
        offset=float(getattr(keys, f"offset_{meter.suffix}")) if meter else 0.0,
        time_pointer=keys.time_pointer,
        seq_pointer=keys.seq_pointer,
        switch=meter is None,
        on_words=_lowered(getattr(keys, "on_words", ("on",))),
        off_words=_lowered(getattr(keys, "off_words", ("off",))),
    )


def _lowered(given: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    # the decoder lowers what arrives
    return tuple(word.strip().lower() for word in given)


def _feeder(name: str, table: FeederTable, tables: Tables) -> Feeder:
    if not isinstance(table, CellTable | PumpTable):
        raise TypeError(f"feeder {name!r} is of no known kind")
    substance = delivery.substance_of(table)
    signals = {signal.name: signal for signal in tables.signals}
    level = table.level if isinstance(table, PumpTable) else None
    return Feeder(
        id=FeederId(name),
        substance=substance,
        kind="cell" if isinstance(table, CellTable) else "pump",
        rate_g_s=delivery.rate_g_s(table),
        percent=table.percent,
        lockout_group=substance.value,
        pulse_s_min=float(table.pulse_s_min),
        pulse_s_max=float(table.pulse_s_max),
        rest_s_min=float(table.rest_s_min),
        feedback=SignalId(table.feedback) if table.feedback is not None else None,
        metered=table.feedback is not None and at_load(signals[table.feedback]),
        level=SignalId(level) if level is not None else None,
        container_ml=table.container_l * 1000.0 if isinstance(table, PumpTable) else 0.0,
        ml_per_g=delivery.ml_per_g(table),
        strength_text=delivery.strength_text(table),
        node=NodeId(table.node) if table.node is not None else None,
        cell_cutout=isinstance(table, CellTable) and table.own_cutout,
        hourly_cap_g=delivery.hourly_g(table),
        digest="",
        full_from_c=float(table.full_from_c) if isinstance(table, CellTable) else 0.0,
    )


CHLORINE_ONLY = frozenset(
    {
        SignalKind.ORP,
        SignalKind.FREE_CHLORINE,
        SignalKind.SALT,
        SignalKind.CELL_CURRENT,
        SignalKind.CELL_VOLTAGE,
        SignalKind.COVER,
        SignalKind.SUNLIGHT,
    }
)
"""Signals that no acid feeder is judged by."""
