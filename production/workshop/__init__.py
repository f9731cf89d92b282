"""The plasters, tools and air of a unit's bench."""
