"""The worker within a test: does at once all that waits for it, as the real one would; and the plan after a commit."""

from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

from production.planning.plan_runs import keep_planned
from production.working_week.models import WorkingWeek

EVERY_DAY = {"saturday": 240, "sunday": 240, "division": WorkingWeek.Division.NONE}


def planned(unit, now=None):
    """Plan what has changed, as after each commit; the unit works on every day, whatever day the test runs on."""
    WorkingWeek.objects.update_or_create(unit=unit, defaults=EVERY_DAY)
    keep_planned(unit, now or timezone.now())


def work_off(most=50):
    """Do what waits, put-off tries too; how many pieces of work the worker took up."""
    worker = Worker(
        queue_names=["*"],
        interval=0,
        batch=True,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id="test",
        excluded_queue_names=[],
    )
    for number in range(most):
        row = DBTaskResult.objects.filter(status="READY").order_by("enqueued_at").first()
        if row is None:
            return number
        row.claim("test")
        worker.run_task(row)
    raise AssertionError("The work never ends.")
