"""The rows of the alarm catalogue, by what they are about."""
