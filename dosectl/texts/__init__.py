"""Reason code and facts -> a sentence for a person. The words live in the file that gives the reason."""
