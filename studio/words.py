"""What happened to a job, as its history tells it; each app names the events of its actions."""

_said: dict[str, str] = {
    "open_job": "Opened",
    "leave_off_piece": "A piece left off",
    "take_piece_back": "A piece back on",
    "promise": "Promise changed",
}


def name_events(**words: str) -> None:
    """Say how the history tells each action: `weigh="Weighed"`."""
    _said.update(words)


def told(what: str) -> str:
    """The words for an event; an action nobody named is told by its own name."""
    return _said.get(what) or what.replace("_", " ").capitalize()


def is_named(what: str) -> bool:
    return what in _said
