"""Named faults of the plant, one function each; `registry` finds them all."""
