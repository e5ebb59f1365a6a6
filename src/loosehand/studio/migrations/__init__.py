"""Steps that bring a studio's database up to date; run when a studio is opened."""
