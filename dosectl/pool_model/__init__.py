"""A simulated pool: water, weather, bathers, electrodes, feeders, circulation and named faults.

For rehearsal only; nothing that runs a real pool imports it. It takes its laws from `chemistry` and everything uncertain
(strengths, offsets, rates) from `params`, which are meant to differ from what a plan believes.
"""
