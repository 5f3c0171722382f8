"""The WSGI door that the web server calls."""

import os

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from config.room import with_room
from config.turns import Turns, at_once

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

application = Turns(
    with_room(get_wsgi_application()), at_once=at_once(settings.DATABASES["default"]["ENGINE"])
)
