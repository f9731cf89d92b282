"""How dates and numbers are read and shown by forms and templates, for each language."""
