"""The plasters, tools and drying room of a unit."""
