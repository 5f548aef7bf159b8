"""The settings file: TOML, checked in full, turned into frozen objects.

Ranges and defaults stay in each room's params; only `checks`, `describe` and `before_after` use chemistry, to say what a setting means
in mg/L and pH. Never opens a socket, never starts a feed; the only files it reads are the settings and the secrets they name.
"""
