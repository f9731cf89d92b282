"""The gate of consent: no framing, and nothing ready, once consent to the casts is withdrawn."""

from bookings.consent.permissions import families_without_consent
from studio.jobs.models import Job
from studio.stages import Stage, gate


@gate(Stage.DRYING, Stage.FRAMING)
@gate(Stage.FRAMING, Stage.READY)
def consent_to_casts_is_not_withdrawn(job: Job) -> str | None:
    """Stop work on the casts of a family that withdrew its consent, not of one never asked."""
    if not families_without_consent([job]):
        return None
    return (
        f"The {job.family.name} family has taken back its yes to the casts: speak with them, "
        "then write down a new yes, or call the job off."
    )
