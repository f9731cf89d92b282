"""Generated benches and a checker that knows only the facts, not how plans are made."""
