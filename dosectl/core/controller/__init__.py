"""The step: `Plan`, `State`, `Decision`, `step()`. Reads no clock, no socket, no file; the same inputs give the same decision."""
