"""Numbered steps of the schema, `NNNN_what.sql`, each applied once and in order."""
