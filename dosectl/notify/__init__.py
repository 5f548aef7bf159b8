"""Calls people and keeps calling until one answers: what is due to whom, the words, the routes, and the outside watcher.

Nothing here decides or feeds: it reads the journal's outbox and writes what became of each try.
"""
