"""Simulated players and their sound, for the demo, the tests and the bench."""
