"""Nouns that every room shares.

A type enters when two rooms that may not import each other need it. No thresholds, no defaults of the trade,
no behaviour but arithmetic on itself; imports nothing of ours.
"""
