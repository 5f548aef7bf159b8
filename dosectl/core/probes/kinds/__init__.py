"""One file a kind of signal: its plausible range, its largest natural step, and the words for what lies outside."""
