from datetime import datetime

from bookings import times
from bookings.sittings import ages, sitters
from studio.families.models import Family
from studio.roles import Role
from studio.web.panels import Panel, family_panel


@family_panel(5)
def best_days_of_family(family: Family, role: Role, now: datetime) -> Panel | None:
    """Age of each child and its best day for a sitting; None without children."""
    today = times.local_day(now, family.unit.time_zone)
    children = [
        {
            "child": child,
            "advice": sitters.advise(family.unit, child, today),
            "best_on": best_on if best_on > today else None,
        }
        for child in family.children.oldest_first()
        for best_on in [ages.best_sitting_on(child.born_on, family.unit.best_months)]
    ]
    if not children:
        return None
    return Panel(
        title="Book",
        template="bookings/diary/_best_days_panel.html",
        anchor="book",
        context={"family": family, "children": children, "today": today},
    )
