"""Answers for a person: what to add, how to come down, may we swim, what to test. Pure, and it feeds nothing.

Each question is a file with one function that takes what is known of the water (`known`) and gives an `answer.Answer`: sentences
by code, numbers with their doubt, what else moves, the working, and the safety notes that must be shown with it. What can't be
answered raises `known.Refused`, a ValueError whose text says where, what was found, what is accepted, and what to do.
Advice defers to product labels, local codes and licensed trades; nothing that controls reads any of it.
"""
