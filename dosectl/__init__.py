"""dosectl keeps a pool's free chlorine and pH in band, unattended, within hard interlocks.

The rooms and the direction of imports between them are described in DEVELOPERS.md.
"""

__version__ = "0.1.0"
