"""What people do to families, jobs and the unit: one function and one transaction each."""

"""The names of the actions on a job, which are the names of their events."""
