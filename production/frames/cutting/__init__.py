"""Cutting plans for a week: mouldings out of bars (`bars`), boards and glass out of sheets (`sheets`). Pure.

Behind `bars`: `packing` finds a first plan by rule of thumb, `columns` and `diving` improve it by linear programs,
`weighing` proves a lower bound, `search` keeps offcuts whole. Behind `sheets`: `guillotine` fills one sheet.
Each module names its sources in its docstring.
"""
