"""The worker within a test: does at once all that waits for it, as the real one would."""

from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult


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
