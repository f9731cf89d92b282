"""Messages and safety notes of the bench."""

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
    """Message after demoulding: the cast's place, and to weigh it now."""
    where = f"place {cast.rack_place}" if cast.rack_place else "beside the rack, which is full"
    return f"{cast.piece}: out of the mould, {where}. Weigh it now: its fresh weight tells when it is dry."


def weighed(now: PieceNow) -> str:
    """Message after a weighing: the weight, whether the cast is dry, and when it probably will be."""
    if now.last is None or now.judged is None:
        return f"{now.piece}: written down."
    said = f"{now.piece}: {now.last.mass_g:g} g. {now.judged.sentence}"
    if now.judged.dry:
        return said
    return f"{said} {now.forecast_words or f'Probably dry {day(now.probably_dry_on)}'}."


def ticked(framed: FrameNow) -> str:
    """Message after a framing step: what is still to be done."""
    left = ", ".join(framed.left)
    return f"{framed.job.first_names}: " + (f"still to do: {left}." if left else "all is done.")
