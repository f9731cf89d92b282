"""Spoiled pieces: the unit's reasons, what each cost, and what can be learnt from them."""
