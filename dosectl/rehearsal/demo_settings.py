"""The demo's settings file, filled in for a broker: a real file, read by the unmodified daemon."""

from importlib.resources import files

_CELL = """[signals.cell_load]
kind = "feedback"
topic = "dosectl/demo/pump_room/state"
pointer = "/cell_a"
unit = "A"
on_above_a = 0.5
time_pointer = "/utc"
seq_pointer = "/seq"
edges = true

[signals.salt]
topic = "dosectl/demo/probes/slow"
pointer = "/salt_g_l"
time_pointer = "/utc"
seq_pointer = "/seq"
period_s = 60

[feeders.cell]
kind = "cell"
node = "feeders"
output_g_h = 20
own_cutout = true
feedback = "cell_load"
"""

_HYPOCHLORITE = """[signals.hypo_load]
kind = "feedback"
topic = "dosectl/demo/pump_room/state"
pointer = "/hypo_running"
at_load = true
time_pointer = "/utc"
seq_pointer = "/seq"
edges = true

[signals.hypo_level]
kind = "level"
topic = "dosectl/demo/pump_room/levels"
pointer = "/hypo_percent"
unit = "%"
time_pointer = "/utc"
period_s = 60

[feeders.hypo]
kind = "hypochlorite_pump"
node = "feeders"
rate_ml_min = 10
strength_g_l = 125
container_l = 20
feedback = "hypo_load"
level = "hypo_level"
"""


def demo_settings(host: str, port: int, protocol: str, hypochlorite: bool = False) -> str:
    """TOML text. protocol : "auto", "5" or "3.1.1"."""
    template = files("dosectl.rehearsal").joinpath("demo.toml").read_text(encoding="utf-8")
    for place, text in (
        ("{host}", host),
        ("{port}", str(port)),
        ("{protocol}", protocol),
        ("{chlorine}", _HYPOCHLORITE if hypochlorite else _CELL),
    ):
        template = template.replace(place, text)
    return template
