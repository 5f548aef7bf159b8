"""The tables of the file that belong to the installation: pool, feeders, broker, records."""

from pydantic import Field

from dosectl.settings.tables.fields import Strict, flag, identifier, number, one_of, part, text, words

PLACEHOLDERS = ("{seconds}", "{level}", "{percent}")


class PoolTable(Strict):
    """The water and its place."""

    id: str = identifier("pool", why="short name, part of topics and file names")
    name: str = text("", why="name for people; left out: the id", longest=60)
    volume_m3: float = number(ge=2.0, le=500.0, unit="m3", why="water in the pool; every dose is mass over volume")
    latitude_deg: float = number(ge=-70.0, le=70.0, unit="deg", why="north is positive; the sun's height comes from it")
    longitude_deg: float = number(ge=-180.0, le=180.0, unit="deg", why="east is positive")
    time_zone: str = text(
        why="IANA name; the owner's day is counted in it", longest=60, accepted='an IANA name such as "Europe/Vienna"'
    )
    stabiliser_mg_l: float = number(
        ge=0.0, le=300.0, unit="mg/L", why="cyanuric acid by the last test; the chlorine target depends on it"
    )
    alkalinity_mg_l: float = number(
        ge=20.0, le=400.0, unit="mg/L", why="total alkalinity as CaCO3 by the last test; bounds the acid"
    )
    hardness_mg_l: float = number(
        250.0, ge=0.0, le=1500.0, unit="mg/L", why="calcium as CaCO3; only advice on scale depends on it"
    )
    salt_g_l: float = number(ge=0.0, le=40.0, unit="g/L", why="salt as NaCl by the last test; 0 to 1 in fresh water")
    borate_b_mg_l: float = number(0.0, ge=0.0, le=100.0, unit="mg/L", why="borate as boron; a buffer, where it was added")
    depth_m: float = number(
        1.5, ge=0.3, le=5.0, unit="m", why="mean depth; how much the sun takes depends on it; usual home pool"
    )
    turnover_h: float = number(5.0, ge=0.5, le=24.0, unit="h", why="hours in which the pump moves one volume; usual 4 to 8")
    simulated: bool = flag(why="the pool is a simulated one: its nodes say so too, and its proofs are worth nothing elsewhere")
    covered: bool = flag(why="a cover is closed for hours of daylight; wire its signal too")
    asks_pump_hours: bool = flag(why="publish the hours of flow that the coming day needs; a hub of yours may follow them")
    without: list[str] = words(
        (),
        why="interlocks that read what is not fitted here, such as probe.agreement: each that is not named is an alarm",
        fewest=0,
    )


class RelayTable(Strict):
    """How a plain relay is told "on for N seconds"; places: {seconds}, {level} 0 to 1, {percent} 0 to 100."""

    on_topic: str = text(why="topic of the ON", longest=200, accepted="a topic without # and +")
    on_payload: str = text(why="payload of the ON; {seconds} must occur, so that the relay ends the feed by itself", longest=500)
    off_topic: str | None = text(
        None, why="topic of the OFF; left out: that of the ON", longest=200, accepted="a topic without # and +"
    )
    off_payload: str = text(why="payload of the OFF", longest=500)


class FeederTable(Strict):
    """What every feeder has."""

    kind: str = one_of(..., "cell", "hypochlorite_pump", "acid_pump", why="what it is")
    node: str | None = identifier(None, why="the node that carries out its commands and ends them by itself")
    relay: RelayTable | None = part(None, why="templates of a plain relay, instead of a node")
    percent: bool = flag(why="the device takes an output percentage; left out: on or off")
    feedback: str | None = identifier(None, why="the signal that shows it running; without one a feeder is refused")
    node_cap_s_per_h: float | None = number(
        None, ge=1.0, le=3600.0, unit="s", why="running time per hour at which the node itself stops it, in its own counter"
    )
    wired_timer_s_per_h: float | None = number(
        None, ge=1.0, le=3600.0, unit="s", why="running time per hour that a wired timer lets through; holds a welded contact too"
    )


class CellTable(FeederTable):
    """A chlorinator that makes chlorine from the pool's salt."""

    output_g_h: float = number(ge=1.0, le=200.0, unit="g/h", why="chlorine at full output, measured or by its plate")
    full_from_c: float = number(
        15.0,
        ge=5.0,
        le=25.0,
        unit="degC",
        why="water in which it gives all; less in colder, nothing 5 K below; common practice; its label decides",
    )
    own_cutout: bool = flag(why="the cell has its own wired gas or flow cut-out; then one kind of flow evidence is enough")
    current: str | None = identifier(None, why="signal of the cell's current")
    voltage: str | None = identifier(None, why="signal of the cell's voltage")
    pulse_s_min: float = number(120.0, ge=10.0, le=1800.0, unit="s", why="shortest run: power supplies and coatings dislike less")
    pulse_s_max: float = number(
        1200.0, ge=60.0, le=7200.0, unit="s", why="longest run before it is judged anew; one control period"
    )
    rest_s_min: float = number(120.0, ge=0.0, le=1800.0, unit="s", why="shortest rest")


class PumpTable(FeederTable):
    """What every metering pump has."""

    rate_ml_min: float = number(
        ge=4.0, le=500.0, unit="mL/min", why="delivery at working pressure, by a drawdown test; below 4 dilute or fit a cap"
    )
    container_l: float = number(
        ge=0.5, le=200.0, unit="L", why="what the connected container holds when full: the last limit there is"
    )
    level: str | None = identifier(None, why="signal of the container's level")
    pulse_s_min: float = number(5.0, ge=1.0, le=120.0, unit="s", why="shortest run that still meters well; common practice")
    pulse_s_max: float = number(1200.0, ge=5.0, le=3600.0, unit="s", why="longest run of one pulse")
    rest_s_min: float = number(30.0, ge=0.0, le=1800.0, unit="s", why="shortest rest between pulses")


class HypochloritePumpTable(PumpTable):
    """A pump that feeds sodium hypochlorite. One of the three ways to say its strength."""

    pulse_s_max: float = number(
        3600.0, ge=5.0, le=3600.0, unit="s", why="longest run of one pulse; the single-feed limit ends most before it"
    )
    strength_g_l: float | None = number(None, ge=30.0, le=200.0, unit="g/L", why="available chlorine as Cl2, g per litre")
    strength_trade_percent: float | None = number(None, ge=3.0, le=20.0, unit="trade %", why="g of available chlorine per 100 mL")
    strength_weight_percent: float | None = number(
        None, ge=2.5, le=17.0, unit="% by weight", why="g of available chlorine per 100 g; needs density_kg_l"
    )
    density_kg_l: float | None = number(None, ge=1.0, le=1.4, unit="kg/L", why="density, with strength_weight_percent")


class AcidPumpTable(PumpTable):
    """A pump that feeds acid. One of the two ways to say its strength."""

    strength_hcl_weight_percent: float | None = number(
        None, ge=3.0, le=38.0, unit="% by weight", why="hydrochloric acid, g HCl per 100 g, as on its label"
    )
    density_kg_l: float | None = number(
        None, ge=1.0, le=1.25, unit="kg/L", why="density; left out: the usual one of that strength"
    )
    strength_meq_ml: float | None = number(
        None, ge=0.5, le=37.0, unit="meq/mL", why="any other acid: equivalents per litre; sulphuric 15 % by weight is 3.4"
    )


class BrokerTable(Strict):
    """The MQTT broker."""

    host: str = text(
        "localhost", why="name or address", longest=253, pattern=r"^[A-Za-z0-9._:\-]+$", accepted="a host name or address"
    )
    port: int = Field(
        1883, ge=1, le=65535, description="1883 without TLS, 8883 with", json_schema_extra={"ge": 1, "le": 65535, "unit": ""}
    )
    protocol: str = one_of("auto", "auto", "5", "3.1.1", why="auto: MQTT 5, and 3.1.1 where the broker has only that")
    username: str | None = text(None, why="account on the broker", longest=120)
    password_file: str | None = text(None, why="file with the password, mode 600; beside the settings file if not absolute")
    ca_file: str | None = text(None, why="certificates to check the broker by; turns TLS on")
    keepalive_s: int = Field(
        5,
        ge=2,
        le=60,
        description="MQTT keep-alive; a dead link shows within 1.5 of it",
        json_schema_extra={"ge": 2, "le": 60, "unit": "s"},
    )
    base: str | None = text(
        None,
        why="first part of our own topics; left out: dosectl/<pool id>",
        longest=80,
        pattern=r"^[^$#+/\x00][^#+\x00]*[^#+/\x00]$",
        accepted="a topic without # and +, with no slash at either end",
    )
    client_id: str | None = text(None, why="client id; left out: dosectl-<pool id>", longest=60, pattern=r"^[A-Za-z0-9_\-]+$")


class TimingTable(Strict):
    """Life of a command."""

    renew_s: float = number(5.0, ge=1.0, le=10.0, unit="s", why="a wanted feed is renewed this often")
    expires_s: float = number(
        10.0, ge=2.0, le=15.0, unit="s", why="a command ends by itself after this; a lost daemon or network ends the feed"
    )


class JournalTable(Strict):
    """The record."""

    file: str | None = text(None, why="SQLite file; beside the settings file if not absolute; left out: <pool id>.journal")


class CalendarTable(Strict):
    """Reminders as a calendar file (RFC 5545) that the daemon writes anew each morning; left out: none."""

    file: str = text(why="the file, such as one that a web server hands out; beside the settings file if not absolute")
    language: str = one_of("en", "en", "de", why="language of the reminders")


class ForwardTable(Strict):
    """A time-series server that takes line protocol; left out: none."""

    url: str = text(why="address", pattern=r"^https?://[^\s]+$", accepted="an address that begins with http:// or https://")
    org: str = text("", why="organisation, where the server has them", longest=120)
    bucket: str = text("pool", why="bucket or database", longest=120)
    token_file: str | None = text(None, why="file with the access token, mode 600")
