"""What a block asks from a day on, as a row."""

from datetime import date, datetime

from routines.engine.plan import BlockPlan
from routines.models import Block, BlockVersion
from studio.models import User

OWN_COUNTS = "own"


def write_version(
    block: Block, plan: BlockPlan, *, from_day: date, by: User, moment: datetime
) -> BlockVersion:
    """Write down what a block asks from a day on."""
    version: BlockVersion = BlockVersion.objects.create(
        block=block,
        from_day=from_day,
        start_note=plan.start_note,
        low_note=plan.low_note,
        top_note=plan.top_note,
        back=plan.back,
        hold=plan.hold,
        rest=plan.rest,
        tempo=plan.tempo,
        dynamics=str(plan.dynamics),
        clef=plan.setup.clef or "",
        four_valves=plan.setup.four_valves,
        compensating=plan.setup.compensating,
        f_attachment=plan.setup.f_attachment,
        made_by=by,
        made_at=moment,
    )
    return version
