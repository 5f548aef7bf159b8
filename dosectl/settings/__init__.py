"""The settings file: TOML, checked in full, turned into frozen objects.

Ranges and defaults stay in each room's params; only `checks`, `describe` and `differences` use chemistry, to say what a setting
means in mg/L and pH. Never opens a socket, never starts a feed; it reads only the settings file and the secrets it names.
"""
