from bookings.consent.permissions import families_without_consent
from studio.jobs.models import Job
from studio.stages import Stage, gate


@gate(Stage.DRYING, Stage.FRAMING)
@gate(Stage.FRAMING, Stage.READY)
def the_family_has_not_stopped_it(job: Job) -> str | None:
    """Taken back: the work stops. Whoever was never asked is not held up here."""
    if not families_without_consent([job]):
        return None
    return (
        f"The {job.family.name} family has taken back its yes to the casts: speak with them, "
        "then write down a new yes, or call the job off."
    )
