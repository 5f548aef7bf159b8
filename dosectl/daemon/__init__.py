"""The process that runs a pool: wiring, core loop, order of effects, clock, calendar, watchdog. Decides nothing itself."""
