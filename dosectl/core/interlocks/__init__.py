"""Guards and the arbiter: the last word over every feed. Knows nothing of the estimate, the target or who asks."""
