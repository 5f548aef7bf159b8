"""The tables of the file: their keys, their units, and every way in which one of them alone can be wrong."""
