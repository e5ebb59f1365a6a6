"""The rounds of a workout: what is played in which order, and what happens while they run."""
