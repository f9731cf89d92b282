"""What bin/bench runs: ratios of our pages and papers to bare ones, measured in one run.

Nothing here judges: each ratio is printed with the numbers it came from and with its goal. Read
`__main__.py` first; `history.py` writes the invented years that the pages are measured on.
"""
