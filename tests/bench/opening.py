"""`python -m tests.bench.opening BLOCK`: open every page about the student who plays this block.

Prints, as JSON, the paths of the pages that a teacher, a student and a parent can open, and the
cookies that let them in. The studio gets one of everything for it, so it comes last of all.
"""

import json
import sys
from dataclasses import asdict

import django


def main() -> None:
    """Print the pages of each role about the student whose block this is."""
    django.setup()
    from django_scopes import scopes_disabled  # noqa: PLC0415 - needs the set-up

    from routines.models import Block  # noqa: PLC0415
    from studio.models import Membership  # noqa: PLC0415
    from tests import makers  # noqa: PLC0415
    from tests.opened import opened  # noqa: PLC0415

    with scopes_disabled():
        asked = Block.objects.select_related("student__studio").get(public_id=sys.argv[1])
        owner = Membership.objects.select_related("user").get(studio=asked.student.studio).user
    # Some pages are for teachers with a password alone; so far this one came in without.
    owner.set_password(makers.PASSWORD)
    owner.save()
    found = opened(asked.student, owner)
    json.dump({role: asdict(one) for role, one in found.items()}, sys.stdout)


if __name__ == "__main__":
    main()
