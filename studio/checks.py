"""What `manage.py check --deploy` says about this project's own settings."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register  # noqa: A004 - Django's name


@register(Tags.security, deploy=True)
def second_step_is_asked(**_kwargs: Any) -> Sequence[CheckMessage]:
    """Warn of a public site where a teacher's password alone opens the studio."""
    if settings.PUBLIC and not settings.SECOND_FACTOR:
        return [
            Warning(
                "FILAR_SECOND_FACTOR is False: a stolen password opens a studio.",
                hint="Leave the variable out.",
                id="studio.W001",
            )
        ]
    return []
