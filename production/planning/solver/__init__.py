"""The plan of all open jobs within what the bench can do, in whole days. Pure: no Django, no clock, no unseeded chance.

The same facts give the same plan. `facts` holds what goes in (jobs, bench) and what comes out (plan, steps);
a previous plan may be given, and what can stay on its day stays.
"""
