"""Sentences of the bench that belong to no single page."""

from production.bench.piece_now import FrameNow, PieceNow
from production.casts.models import Cast
from studio.units import day

# HSE case of 2007 and the safety pages of NSEAD; dust: the maker's own data sheet comes first.
POURING = (
    "Pour only when the child is away from the table.",
    "Plaster never touches skin: it heats as it sets, up to 60 °C, and is alkaline. Never a hand or foot in it.",
    "Wear a dust mask and gloves while you weigh and stir; add the powder to the water.",
    "Wipe up wet, never sweep; no slurry down the sink.",
)

RELEASING = (
    "A damp cast behind glass fogs, stains its backing and may grow mould.",
    "The reason stays in the job’s history.",
)


def demoulded(cast: Cast) -> str:
    where = f"place {cast.rack_place}" if cast.rack_place else "beside the rack, which is full"
    return f"{cast.piece}: out of the mould, {where}. Weigh it now: its fresh weight tells when it is dry."


def weighed(now: PieceNow) -> str:
    """What the last weighing means, in one line for the next page."""
    if now.last is None or now.judged is None:
        return f"{now.piece}: written down."
    said = f"{now.piece}: {now.last.mass_g:g} g. {now.judged.sentence}"
    if now.judged.dry:
        return said
    return f"{said} {now.forecast_words or f'Probably dry {day(now.probably_dry_on)}'}."


def ticked(framed: FrameNow) -> str:
    left = ", ".join(framed.left)
    return f"{framed.job.first_names}: " + (f"still to do: {left}." if left else "all is done.")
