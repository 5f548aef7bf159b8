"""One file a kind of request: its arguments, its rights, its refusals and its words."""
