"""The pure step and nothing that is not pure: it reads no clock, no socket, no file."""
