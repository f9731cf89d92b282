"""Long proofs, one module each; `bin/prove NAME` runs one.

A proof's `prove(arguments)` takes its command line, prints its seed and its figures, and returns one
sentence for each goal that it missed. Its docstring's first line is what `bin/prove` lists.
"""
