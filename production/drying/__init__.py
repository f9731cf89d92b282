"""Drying of a cast. Pure: numbers and frozen dataclasses in and out.

`gate` and `verdict` judge from the weighings whether a cast is dry, `forecast` names the day it will be, from the
drying curves in `law`; `air` and `clock` say how fast a room dries, `learning` what a unit's own pieces teach,
`warnings` what is wrong with a weighing or a room.
"""
