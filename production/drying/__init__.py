"""Drying of a cast. Pure: numbers and frozen dataclasses in and out.

`judgement` decides from the weighings whether a cast is dry, with `by_weight`; `forecast` names the day it will be,
from the drying curves in `curves`; `air` and `clock` say how fast a room dries, `learning` what a unit's own pieces
teach, `warnings` what is wrong with a weighing or a room.
"""
