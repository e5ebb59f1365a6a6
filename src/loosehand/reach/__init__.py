"""What a hand can hold: the hold-time model, its trend, its forecasts."""
