from datetime import datetime

from bookings.consent import wording
from bookings.consent.forms import ConsentForm
from studio.families.models import Family
from studio.roles import Role
from studio.web.panels import Panel, family_panel


@family_panel(10)
def consent_of_family(family: Family, role: Role, now: datetime) -> Panel:
    """Consent of a family by purpose, or the question to ask; number of photographs to erase."""
    to_erase = family.unit.photos.to_erase().filter(job__family=family).count()
    ended = {
        each.purpose: each for each in family.consents.filter(withdrawn_at__isnull=False)[::-1]
    }
    in_force = {each.purpose: each for each in family.consents.in_force()}
    return Panel(
        title="Consent",
        template="bookings/consent/_family_panel.html",
        anchor="consent",
        context={
            "family": family,
            "to_erase": to_erase,
            "may_erase": role == Role.OWNER,
            "questions": [
                {
                    "wording": asked.translated(),
                    "consent": in_force.get(purpose),
                    "ended": None if purpose in in_force else ended.get(purpose),
                    "form": ConsentForm(
                        initial={"purpose": purpose, "given_by": family.contact_name},
                        auto_id=f"{purpose}_%s",
                    ),
                }
                for purpose, asked in wording.WORDINGS.items()
            ],
        },
    )
